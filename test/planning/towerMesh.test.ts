import fc from 'fast-check';
import Module from 'manifold-3d';
import { describe, expect, it } from 'vitest';
import { binaryStl } from '../../src/planning/stl.js';
import { FOOT, MARK, towerMesh, type Mesh } from '../../src/planning/towerMesh.js';
import { expectClose } from '../helpers/closeTo.js';
import { syncInputErrorOf } from '../helpers/thrown.js';

type Tower = Parameters<typeof towerMesh>[0];

function tower(change: Partial<Tower> = {}, slots: Tower['slots'] = []): Tower {
  return { widthMm: 90, heightMm: 68, leadingCorner: 'left', slots, ...change };
}

/** Triangles of a binary STL file, read as its specification says: twelve floats each, normal first. */
function trianglesOf(bytes: Uint8Array): readonly (readonly number[])[] {
  const view = new DataView(bytes.buffer, bytes.byteOffset);
  const count = view.getUint32(80, true);
  expect(bytes).toHaveLength(84 + 50 * count);
  return Array.from({ length: count }, (_, i) =>
    Array.from({ length: 12 }, (_, k) => view.getFloat32(84 + 50 * i + 4 * k, true)),
  );
}

/** What is used of the kernel: its own types are not found by node's rules of modules. */
interface Kernel {
  readonly setup: () => void;
  readonly Mesh: new (options: {
    readonly numProp: number;
    readonly vertProperties: Float32Array;
    readonly triVerts: Uint32Array;
  }) => { readonly merge: () => boolean };
  readonly Manifold: new (mesh: InstanceType<Kernel['Mesh']>) => {
    readonly boundingBox: () => { readonly min: readonly number[]; readonly max: readonly number[] };
    readonly volume: () => number;
    readonly genus: () => number;
    readonly delete: () => void;
  };
}

/** The solid that a general geometry kernel makes of the file: it throws where a mesh is no oriented 2-manifold. */
async function solidOf(
  bytes: Uint8Array,
): Promise<{ volume: number; genus: number; box: readonly number[] }> {
  const kernel = (await Module()) as unknown as Kernel;
  kernel.setup();
  const corners = trianglesOf(bytes).map((numbers) => numbers.slice(3));
  const mesh = new kernel.Mesh({
    numProp: 3,
    vertProperties: Float32Array.from(corners.flat()),
    triVerts: Uint32Array.from({ length: 3 * corners.length }, (_, i) => i),
  });
  // STL repeats each corner: corners at one place are one vertex.
  mesh.merge();
  const solid = new kernel.Manifold(mesh);
  const { min, max } = solid.boundingBox();
  const found = { volume: solid.volume(), genus: solid.genus(), box: [...min, ...max] };
  solid.delete();
  return found;
}

/** Sharpest overhang: degrees from upright of a surface that faces down, the bed's own left out. */
function overhangDeg(bytes: Uint8Array): number {
  const angles = trianglesOf(bytes).flatMap((numbers) => {
    const [, , nz = 0] = numbers;
    const onBed = [5, 8, 11].every((k) => numbers[k] === 0);
    return onBed || nz >= 0 ? [] : [(Math.asin(Math.min(1, -nz)) * 180) / Math.PI];
  });
  return Math.max(0, ...angles);
}

describe('towerMesh', () => {
  it('is a closed solid of the size told, by an outside geometry kernel', async () => {
    // Source: manifold-3d, a general library of solids, which refuses a mesh that is not an oriented 2-manifold.
    const { volume, genus, box } = await solidOf(binaryStl(towerMesh(tower()), 'test tower'));
    expect(genus).toBe(0);
    expect(box).toEqual([-FOOT.outMm, 0, 0, 90, 90 + FOOT.outMm, 68]);
    // Closed form: the prism, the foot as a prism and as what is left of a frustum, less six dents on each of two faces.
    const side = 90;
    const foot = (f: number) => 2 * side * f + f * f;
    const slope = FOOT.heightMm - FOOT.landMm;
    const frustum = slope * (side * FOOT.outMm + FOOT.outMm ** 2 / 3);
    const { depthMm: d, lengthMm, taperMm, halfMm, flankMm } = MARK;
    // A dent is a prism whose depth goes straight from its rim to its floor: mean over height and length (Simpson's rule).
    const inner = { long: lengthMm - 2 * taperMm, high: 2 * halfMm };
    const outer = { long: lengthMm, high: 2 * (halfMm + flankMm) };
    const middle = ((inner.long + outer.long) / 2) * ((inner.high + outer.high) / 2);
    const dent = (d / 6) * (inner.long * inner.high + 4 * middle + outer.long * outer.high);
    const expected = side * side * 68 + FOOT.landMm * foot(FOOT.outMm) + frustum - 12 * dent;
    expectClose(volume, expected, { rel: 1e-6, why: 'numbers of 32 bits' });
  });

  it('the kernel refuses the same file with one triangle less', async () => {
    const mesh = towerMesh(tower());
    const open: Mesh = { ...mesh, verticesMm: mesh.verticesMm, triangles: mesh.triangles.slice(1) };
    await expect(solidOf(binaryStl(open, 'open'))).rejects.toBeTruthy();
  });

  it('has no overhang beyond 45°, and the test sees one', () => {
    expect(overhangDeg(binaryStl(towerMesh(tower()), ''))).toBeLessThan(45);
    expect(
      overhangDeg(binaryStl(towerMesh(tower({}, [{ centreFromLeadingCornerMm: 50, widthMm: 1 }])), '')),
    ).toBeLessThan(45);
    const flat: Mesh = {
      ...towerMesh(tower()),
      verticesMm: towerMesh(tower()).verticesMm.map(([x, y, z]) => [x, y, z / 2]),
    };
    expect(overhangDeg(binaryStl(flat, ''))).toBeGreaterThan(45);
  });

  it.each(['left', 'right'] as const)(
    'has its marks at the far end of both faces, leading corner %s',
    (leadingCorner) => {
      const { verticesMm } = towerMesh(tower({ leadingCorner }));
      // Dented into the front face, whose surface is y = 0, and into the right one, x = 90.
      const front = verticesMm.filter(([x, y, z]) => y === MARK.depthMm && x < 80.1 + 9.9 && z > 5);
      const right = verticesMm.filter(([x, , z]) => x === 90 - MARK.depthMm && z > 5);
      for (const [marks, along] of [
        [front, 0],
        [right, 1],
      ] as const) {
        expect(marks).toHaveLength(6 * 4);
        expect(new Set(marks.map((place) => 10 * Math.round(place[2] / 10)))).toEqual(
          new Set([10, 20, 30, 40, 50, 60]),
        );
        for (const place of marks) {
          const fromEnd = leadingCorner === 'left' ? 90 - place[along] : place[along];
          expect(fromEnd).toBeGreaterThan(3);
          expect(fromEnd).toBeLessThan(8);
        }
      }
    },
  );

  it('is closed for any size, with or without a slot', async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.record({
          widthMm: fc.double({ min: 40, max: 200, noNaN: true }),
          heightMm: fc.double({ min: 20, max: 150, noNaN: true }),
          leadingCorner: fc.constantFrom('left', 'right'),
        }),
        fc.option(fc.double({ min: 0.2, max: 4, noNaN: true })),
        async (face, slot) => {
          const slots = slot === null ? [] : [{ centreFromLeadingCornerMm: face.widthMm / 2, widthMm: slot }];
          const bytes = binaryStl(towerMesh(tower(face, slots)), 'any');
          const { genus, volume } = await solidOf(bytes);
          expect(genus).toBe(0);
          // Two slots of 6 mm take away little, foot and dents next to nothing.
          const block = face.widthMm ** 2 * face.heightMm - 2 * 6 * (slot ?? 0) * face.heightMm;
          expectClose(volume / block, 1, { abs: 0.06, why: 'the foot' });
          expect(overhangDeg(bytes)).toBeLessThan(45);
        },
      ),
      { numRuns: 25 },
    );
  });

  it.each([
    ['a face that shows no ripples', { widthMm: 20 }, []],
    ['a slot at the corner', {}, [{ centreFromLeadingCornerMm: 8, widthMm: 1 }]],
  ] as const)('refuses %s', (_, change, slots) => {
    expect(syncInputErrorOf(() => towerMesh(tower(change, slots)))).toMatchObject({ code: 'record-field' });
  });
});
