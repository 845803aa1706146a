import type { Mesh } from './towerMesh.js';

/** Bytes of the header, and of each triangle: twelve numbers of 32 bits and two bytes that are not used. */
const HEADER = 80;
const PER_TRIANGLE = 50;

/**
 * A mesh as binary STL: little-endian, mm as the user takes them, since the format has no unit.
 * @param mesh - Closed, its triangles counterclockwise from outside.
 * @param title - What the header says; its first 80 bytes of ASCII, which may not begin with "solid".
 * @returns The file's bytes.
 * @see 3D Systems, StereoLithography Interface Specification, 1989 (from memory).
 */
export function binaryStl({ verticesMm, triangles }: Mesh, title: string): Uint8Array {
  const bytes = new Uint8Array(HEADER + 4 + PER_TRIANGLE * triangles.length);
  const view = new DataView(bytes.buffer);
  const letters = Array.from(title)
    .filter((letter) => letter >= ' ' && letter <= '~')
    .slice(0, HEADER);
  letters.forEach((letter, i) => {
    bytes[i] = letter.charCodeAt(0);
  });
  view.setUint32(HEADER, triangles.length, true);
  triangles.forEach((corners, i) => {
    const [a, b, c] = corners.map((index) => verticesMm[index] ?? ([0, 0, 0] as const));
    if (a === undefined || b === undefined || c === undefined) return;
    [normalOf(a, b, c), a, b, c].forEach((vector, k) => {
      vector.forEach((value, axis) => {
        view.setFloat32(HEADER + 4 + PER_TRIANGLE * i + 4 * (3 * k + axis), value, true);
      });
    });
  });
  return bytes;
}

type Vector = readonly [number, number, number];

function normalOf([ax, ay, az]: Vector, [bx, by, bz]: Vector, [cx, cy, cz]: Vector): Vector {
  const [ux, uy, uz, vx, vy, vz] = [bx - ax, by - ay, bz - az, cx - ax, cy - ay, cz - az];
  const normal: Vector = [uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx];
  const length = Math.hypot(...normal);
  return [normal[0] / length, normal[1] / length, normal[2] / length];
}
