import earcut from 'earcut';
import { InputError } from '../core/errors.js';
import type { Mm } from '../core/units.js';
import type { PrintSettings } from '../print/settle.js';

/** A closed surface of triangles, seen from outside counterclockwise. Plain data. */
export interface Mesh {
  /** x to the right, y to the back of the bed, z up, mm, shape (vertices, 3). */
  readonly verticesMm: readonly (readonly [Mm, Mm, Mm])[];
  /** Indices of vertices. */
  readonly triangles: readonly (readonly [number, number, number])[];
}

/**
 * Height marks: a shallow dent each, its flanks no steeper than can be printed without support.
 * @internal
 */
export const MARK = {
  everyMm: 10,
  /** From the far end of the face to the dent's near edge, and its length along the wall. */
  fromEndMm: 3,
  lengthMm: 5,
  depthMm: 0.4,
  /** Half its height at the bottom of the dent; each flank is `flankMm` higher. */
  halfMm: 0.3,
  flankMm: 0.45,
  /** Along the wall it deepens so slowly that the nozzle is hardly kicked. */
  taperMm: 1.5,
} as const;

/**
 * The foot at the back and at the left: how far it stands out, and up to where it is upright and reaches at all.
 * @internal
 */
export const FOOT = { outMm: 2.5, landMm: 0.8, heightMm: 3.3 } as const;

/** How far a slot goes into the tower. */
const SLOT_DEPTH_MM: Mm = 6;
/** Smaller towers show no ripples; a slot keeps clear of both ends. */
const LEAST_MM = { width: 30, height: 20, beside: 12 } as const;

/** What a tower's surface follows. */
interface MeshedTower extends Pick<PrintSettings, 'slots'> {
  readonly widthMm: Mm;
  readonly heightMm: Mm;
  readonly leadingCorner: 'left' | 'right';
}

type Point = readonly [x: Mm, y: Mm];

/** A straight stretch of the outline, up to where the next one begins. */
interface Edge {
  readonly from: Point;
  readonly to: Point;
  /** Distances from its beginning between which it has the marks. */
  readonly marks?: readonly [Mm, Mm];
}

/**
 * A test tower: a prism on a square whose front and right faces are flat from the bed to the top, with sharp corners.
 * At the far end of both, height marks are dented in every 10 mm; at the back and at the left a foot stands out, which
 * says in any photo of the two which end was down and which face it is. It is printed as one wall or a spiral.
 * @param shape - Size of its faces, leading corner, slots.
 * @returns Its surface, closed, without an overhang beyond 45°, its lower left front corner at the origin.
 * @throws {InputError} `record-field` where it would be too small, or has a slot at an end.
 */
export function towerMesh(shape: MeshedTower): Mesh {
  checkTowerShape(shape);
  const { heightMm } = shape;
  const mesh = new MeshBuilder();
  const rings = levels(heightMm).map(({ zMm, dent, rich }) =>
    edgesAt(footAt(zMm), shape).map((edge) => mesh.row(edge, zMm, dent, rich)),
  );
  for (let i = 1; i < rings.length; i += 1) {
    const [below = [], above = []] = [rings[i - 1], rings[i]];
    below.forEach((row, k) => {
      mesh.stitch(row, above[k] ?? []);
    });
  }
  mesh.cap(rings[0] ?? [], 'down');
  mesh.cap(rings.at(-1) ?? [], 'up');
  return mesh;
}

/**
 * Whether a test tower can be drawn so.
 * @param shape - Size of its faces, and slots.
 * @throws {InputError} `record-field` where it would be too small, or has a slot at an end.
 */
export function checkTowerShape({
  widthMm,
  heightMm,
  slots,
}: Pick<MeshedTower, 'widthMm' | 'heightMm' | 'slots'>): void {
  if (widthMm < LEAST_MM.width || heightMm < LEAST_MM.height) {
    throw field(
      'face',
      `would have faces of ${widthMm} × ${heightMm} mm`,
      `A test tower is at least ${LEAST_MM.width} mm wide and ${LEAST_MM.height} mm high.`,
    );
  }
  for (const { centreFromLeadingCornerMm: centre, widthMm: slotMm } of slots) {
    if (centre - slotMm / 2 < LEAST_MM.beside || centre + slotMm / 2 > widthMm - LEAST_MM.beside) {
      throw field(
        'slots',
        `has a slot of ${slotMm} mm at ${centre} mm`,
        `Keep slots ${LEAST_MM.beside} mm away from both ends of the face.`,
      );
    }
  }
}

function field(name: string, found: string, advice: string): InputError {
  return new InputError('record-field', `The tower ${found}.`, advice, name);
}

/** Heights at which the surface bends: how deep the dents are there, and whether their places are among the vertices. */
function levels(heightMm: Mm): readonly { readonly zMm: Mm; readonly dent: Mm; readonly rich: boolean }[] {
  const outer = MARK.halfMm + MARK.flankMm;
  const marks: Mm[] = [];
  for (let z = MARK.everyMm; z + outer < heightMm - 1; z += MARK.everyMm) marks.push(z);
  return [
    ...[0, FOOT.landMm, FOOT.heightMm].map((zMm) => ({ zMm, dent: 0, rich: false })),
    ...marks.flatMap((z) => [
      { zMm: z - outer, dent: 0, rich: true },
      { zMm: z - MARK.halfMm, dent: MARK.depthMm, rich: true },
      { zMm: z + MARK.halfMm, dent: MARK.depthMm, rich: true },
      { zMm: z + outer, dent: 0, rich: true },
    ]),
    { zMm: heightMm, dent: 0, rich: false },
  ];
}

function footAt(zMm: Mm): Mm {
  const share = (FOOT.heightMm - zMm) / (FOOT.heightMm - FOOT.landMm);
  return FOOT.outMm * Math.min(1, Math.max(0, share));
}

/** The outline, counterclockwise from above, from the front left corner on. */
function edgesAt(foot: Mm, { widthMm, leadingCorner, slots }: MeshedTower): readonly Edge[] {
  const fromLeft = leadingCorner === 'left';
  const marksMm = fromLeft ? widthMm - MARK.fromEndMm - MARK.lengthMm : MARK.fromEndMm;
  /** A measured face: u along it from its left end, d into the tower; `before` and `after` lengthen its ends. */
  const faceEdges = (at: (u: Mm, d: Mm) => Point, before: Mm, after: Mm): readonly Edge[] => {
    const notches = slots
      .map(({ centreFromLeadingCornerMm: centre, widthMm: slotMm }) => {
        const middle = fromLeft ? centre : widthMm - centre;
        return [middle - slotMm / 2, middle + slotMm / 2] as const;
      })
      .sort((a, b) => a[0] - b[0]);
    const points: Point[] = [
      at(-before, 0),
      ...notches.flatMap(([left, right]) => [
        at(left, 0),
        at(left, SLOT_DEPTH_MM),
        at(right, SLOT_DEPTH_MM),
        at(right, 0),
      ]),
      at(widthMm + after, 0),
    ];
    // The marks are on the stretch at the far end.
    const marked = fromLeft ? points.length - 2 : 0;
    const begins = marked === 0 ? -before : (notches.at(-1)?.[1] ?? 0);
    const near = marksMm - begins;
    return points.slice(0, -1).map((from, i): Edge => {
      const to = points[i + 1] ?? from;
      return i === marked ? { from, to, marks: [near, near + MARK.lengthMm] } : { from, to };
    });
  };
  return [
    ...faceEdges((u, d) => [u, d], foot, 0),
    ...faceEdges((u, d) => [widthMm - d, u], 0, foot),
    { from: [widthMm, widthMm + foot], to: [-foot, widthMm + foot] },
    { from: [-foot, widthMm + foot], to: [-foot, 0] },
  ];
}

/** Vertices of an edge at one height, from its beginning to its end. */
type Row = readonly number[];

class MeshBuilder implements Mesh {
  readonly verticesMm: (readonly [Mm, Mm, Mm])[] = [];
  readonly triangles: (readonly [number, number, number])[] = [];
  private readonly known = new Map<string, number>();
  private readonly depths = new Map<number, Mm>();

  row({ from, to, marks }: Edge, zMm: Mm, dent: Mm, rich: boolean): Row {
    const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
    const along: Point = [(to[0] - from[0]) / length, (to[1] - from[1]) / length];
    const at = (s: Mm, depth: Mm) => {
      // Inwards is to the left of a counterclockwise outline.
      const index = this.vertex([
        from[0] + s * along[0] - depth * along[1],
        from[1] + s * along[1] + depth * along[0],
        zMm,
      ]);
      this.depths.set(index, depth);
      return index;
    };
    const ends = [this.vertex([...from, zMm]), this.vertex([...to, zMm])] as const;
    if (marks === undefined || !rich) return ends;
    const [near, far] = marks;
    return [
      ends[0],
      at(near, 0),
      at(near + MARK.taperMm, dent),
      at(far - MARK.taperMm, dent),
      at(far, 0),
      ends[1],
    ];
  }

  /** The wall between two heights. */
  stitch(below: Row, above: Row): void {
    const [low = 0, lowEnd = 0] = [below[0], below.at(-1)];
    const [high = 0, highEnd = 0] = [above[0], above.at(-1)];
    if (below.length === above.length) {
      for (let i = 1; i < below.length; i += 1) {
        const [a = 0, b = 0, c = 0, d = 0] = [below[i - 1], below[i], above[i], above[i - 1]];
        // At a dent's corner the edge runs down from the corner of its rim to that of its floor.
        if (this.depthOf(b) + this.depthOf(d) > this.depthOf(a) + this.depthOf(c)) {
          this.triangles.push([a, b, d], [b, c, d]);
        } else {
          this.triangles.push([a, b, c], [a, c, d]);
        }
      }
    } else if (below.length < above.length) {
      for (let i = 1; i < above.length; i += 1) this.triangles.push([low, above[i] ?? 0, above[i - 1] ?? 0]);
      this.triangles.push([low, lowEnd, highEnd]);
    } else {
      for (let i = 1; i < below.length; i += 1) this.triangles.push([below[i - 1] ?? 0, below[i] ?? 0, high]);
      this.triangles.push([lowEnd, highEnd, high]);
    }
  }

  /** A level end. Its outline has corners only: points on straight edges would be left out. */
  cap(rows: readonly Row[], way: 'up' | 'down'): void {
    const ring = rows.map((row) => row[0] ?? 0);
    const flat = ring.flatMap((index) => (this.verticesMm[index] ?? [0, 0]).slice(0, 2));
    const found = earcut(flat);
    for (let i = 0; i < found.length; i += 3) {
      const [a = 0, b = 0, c = 0] = [0, 1, 2].map((k) => ring[found[i + k] ?? 0]);
      const turned = this.isCounterclockwise(a, b, c) === (way === 'up');
      this.triangles.push(turned ? [a, b, c] : [a, c, b]);
    }
  }

  private depthOf(index: number): Mm {
    return this.depths.get(index) ?? 0;
  }

  private isCounterclockwise(...indices: readonly [number, number, number]): boolean {
    const [[ax, ay] = [0, 0], [bx, by] = [0, 0], [cx, cy] = [0, 0]] = indices.map(
      (index) => this.verticesMm[index] ?? [0, 0, 0],
    );
    return (bx - ax) * (cy - ay) - (by - ay) * (cx - ax) > 0;
  }

  /** One vertex for each place: edges that meet share it. */
  private vertex(place: readonly [Mm, Mm, Mm]): number {
    const rounded = place.map((value) => Math.round(1e6 * value) / 1e6 + 0) as [Mm, Mm, Mm];
    const key = rounded.join();
    const before = this.known.get(key);
    if (before !== undefined) return before;
    this.known.set(key, this.verticesMm.length);
    return this.verticesMm.push(rounded) - 1;
  }
}
