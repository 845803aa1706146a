import type { ColourImage, CornersPx, PointPx } from '../core/image.js';
import { once } from '../core/once.js';
import { colourEdges } from '../imaging/colourEdges.js';
import { edgeSegments, type Segment } from '../imaging/segments.js';

/** Four edges that may be those of a flat rectangle. */
export interface Quad {
  /** Clockwise from the top left as it lies in the photo, full photo px. */
  readonly cornersPx: CornersPx;
  /** Share of the edges' length where the photo shows an edge, 0 to 1: of all four, and of the worst one. */
  readonly support: number;
  readonly leastSupport: number;
  /** Whether the photo's frame is one of the edges. */
  readonly touchesFrame: boolean;
}

/** Which quadrilaterals are looked for. */
export interface QuadSearch {
  /** Px of the full photo for each px of the shrunk copy. */
  readonly scale: number;
  /** Whether a shape may be meant; asked of every candidate, full photo px. */
  readonly accepts?: (cornersPx: CornersPx) => boolean;
  /** How many to return at most. */
  readonly most: number;
  /** Whether to look for shapes that the photo's frame cuts, and for no others. */
  readonly cutByFrame?: boolean;
}

/** Gradient (of Sobel's scale: 4 times the step) from which an edge goes on and begins: steps of 5 and 11 codes. */
const EDGE_THRESHOLDS = [20, 44] as const;
/** Pieces shorter than this share of the picture's longer side are texture and writing. */
const LEAST_SEGMENT = 0.014;
/** Pieces belong to one line within this distance from it, as a share of the longer side: lenses bow lines. */
const COLLINEAR = 0.0025;
/** Gaps in an edge that are closed, as a share of the longer side. */
const CLOSED_GAP = 0.012;
/** So many lines of either direction are tried, those with most edge on them. */
const MOST_LINES = 40;
/** A face is at least this share of the longer side, across and up. */
const LEAST_SIDE = 0.1;
/** Least share of edge on the worst side and on all, for a shape to be a candidate. */
const LEAST_SUPPORT = { side: 0.3, all: 0.6 } as const;
/** Candidates whose corners all lie this near are the same, as a share of the longer side. */
const SAME = 0.003;

/** Straight edges of a picture in its two main directions, 90° apart. */
interface StraightLines {
  /** The more level ones, pointing to the right. */
  readonly level: readonly Line[];
  /** The more upright ones, pointing down. */
  readonly upright: readonly Line[];
}

/** Every four straight edges of a picture with enough edge on all sides, most edge first; found when asked for, and kept. */
export interface Shapes {
  /** Those that are in the picture as a whole. */
  readonly whole: () => readonly Shape[];
  /** Those of which the picture's frame makes a side or two. */
  readonly cut: () => readonly Shape[];
}

/**
 * What may be a flat rectangle in a picture, whatever its proportions: to be searched any number of times.
 * @param image - The picture, a shrunk copy; not modified.
 * @returns Its shapes.
 */
export function shapesOf(image: ColourImage): Shapes {
  const lines = once(() => straightLines(image));
  return {
    whole: once(() => shapesBetween(lines(), image)),
    cut: once(() => {
      const { level, upright } = lines();
      const frame = twoDirections(frameOf(image));
      const all = { level: [...level, ...frame.level], upright: [...upright, ...frame.upright] };
      // With three sides cut off nothing tells a face from a wall.
      return shapesBetween(all, image).filter(({ framed }) => framed > 0 && framed < 3);
    }),
  };
}

/** Edges of any colour, straight pieces of them, lines that run through pieces: those with most edge on them first. */
function straightLines(image: ColourImage): StraightLines {
  const longest = Math.max(image.widthPx, image.heightPx);
  const edges = colourEdges(image, EDGE_THRESHOLDS);
  const segments = edgeSegments(edges, image.widthPx, LEAST_SEGMENT * longest);
  return twoDirections(throughSegments(segments, longest));
}

/**
 * Quadrilaterals on a shrunk copy that may be flat rectangles: every four lines of two directions with enough edge on
 * all sides.
 * @param image - The shrunk copy.
 * @param search - What to look for.
 * @param shapes - Its shapes, where they are known already.
 * @returns Candidates with most edge first.
 */
export function findQuads(
  image: ColourImage,
  { scale, accepts, most, cutByFrame = false }: QuadSearch,
  shapes: Shapes = shapesOf(image),
): Quad[] {
  const same = SAME * Math.max(image.widthPx, image.heightPx);
  const quads: { readonly quad: Quad; readonly at: CornersPx }[] = [];
  for (const { at, support, leastSupport, framed } of cutByFrame ? shapes.cut() : shapes.whole()) {
    if (quads.length >= most) break;
    if (quads.some((other) => isSame(other.at, at, same))) continue;
    const full = ([x, y]: PointPx): PointPx => [scale * x, scale * y];
    const cornersPx: CornersPx = [full(at[0]), full(at[1]), full(at[2]), full(at[3])];
    if (accepts?.(cornersPx) === false) continue;
    quads.push({ quad: { cornersPx, support, leastSupport, touchesFrame: framed > 0 }, at });
  }
  return quads.map(({ quad }) => quad);
}

/** A line through pieces of edges, and where along it there is edge. */
interface Line {
  /** Its direction and a point on it. */
  readonly c: number;
  readonly s: number;
  readonly x: number;
  readonly y: number;
  /** Pieces along it, by distance from the point, in order and without overlap. */
  readonly pieces: readonly (readonly [from: number, to: number])[];
  /** Length of all pieces. */
  readonly lengthPx: number;
  readonly isFrame: boolean;
}

/** The four sides of the picture. */
function frameOf({ widthPx, heightPx }: ColourImage): Line[] {
  const level = [0, heightPx].map((y) => ({ c: 1, s: 0, x: 0, y, lengthPx: widthPx }));
  const upright = [0, widthPx].map((x) => ({ c: 0, s: 1, x, y: 0, lengthPx: heightPx }));
  return [...level, ...upright].map((side) => ({ ...side, pieces: [[0, side.lengthPx]], isFrame: true }));
}

/** Gathers pieces that lie on one line, the longest first. */
function throughSegments(segments: readonly Segment[], longest: number): Line[] {
  const lengths = segments.map(({ x0, y0, x1, y1 }) => Math.hypot(x1 - x0, y1 - y0));
  const order = [...segments.keys()].sort((a, b) => (lengths[b] ?? 0) - (lengths[a] ?? 0));
  const taken = new Uint8Array(segments.length);
  const lines: Line[] = [];
  for (const seed of order) {
    if (taken[seed] === 1) continue;
    let members = [seed];
    // Twice: what the longest piece gathers tells the direction better than it alone.
    for (let round = 0; round < 2; round += 1) {
      const line = lineThrough(members.flatMap((i) => segments[i] ?? []));
      members = order.filter(
        (i) => (i === seed || taken[i] === 0) && liesOn(segments[i], line, COLLINEAR * longest),
      );
      if (members.length === 0) members = [seed];
    }
    for (const i of members) taken[i] = 1;
    const through = members.flatMap((i) => segments[i] ?? []);
    const line = lineThrough(through);
    const pieces = joined(
      through.map((piece) => spanOn(piece, line)),
      CLOSED_GAP * longest,
    );
    const lengthPx = pieces.reduce((sum, [from, to]) => sum + to - from, 0);
    lines.push({ ...line, pieces, lengthPx, isFrame: false });
  }
  return lines;
}

type Axis = Pick<Line, 'c' | 's' | 'x' | 'y'>;

/** Least squares through the pieces, each weighted by its length. */
function lineThrough(pieces: readonly Segment[]): Axis {
  let [sum, mx, my] = [0, 0, 0];
  for (const { x0, y0, x1, y1 } of pieces) {
    const length = Math.hypot(x1 - x0, y1 - y0);
    sum += length;
    mx += (length * (x0 + x1)) / 2;
    my += (length * (y0 + y1)) / 2;
  }
  [mx, my] = [mx / sum, my / sum];
  let [xx, xy, yy] = [0, 0, 0];
  for (const { x0, y0, x1, y1 } of pieces) {
    const length = Math.hypot(x1 - x0, y1 - y0);
    for (const [x, y] of [
      [x0 - mx, y0 - my],
      [x1 - mx, y1 - my],
    ] as const) {
      xx += length * x * x;
      xy += length * x * y;
      yy += length * y * y;
    }
  }
  const angle = Math.atan2(2 * xy, xx - yy) / 2;
  return { c: Math.cos(angle), s: Math.sin(angle), x: mx, y: my };
}

function liesOn(piece: Segment | undefined, { c, s, x, y }: Axis, tolerance: number): boolean {
  if (piece === undefined) return false;
  const away = (px: number, py: number) => Math.abs(c * (py - y) - s * (px - x));
  return away(piece.x0, piece.y0) < tolerance && away(piece.x1, piece.y1) < tolerance;
}

function spanOn({ x0, y0, x1, y1 }: Segment, { c, s, x, y }: Axis): readonly [number, number] {
  const [a, b] = [c * (x0 - x) + s * (y0 - y), c * (x1 - x) + s * (y1 - y)];
  return a < b ? [a, b] : [b, a];
}

function joined(spans: readonly (readonly [number, number])[], gap: number): [number, number][] {
  const pieces: [number, number][] = [];
  for (const [from, to] of [...spans].sort((a, b) => a[0] - b[0])) {
    const last = pieces.at(-1);
    if (last !== undefined && from - last[1] < gap) last[1] = Math.max(last[1], to);
    else pieces.push([from, to]);
  }
  return pieces;
}

/**
 * Sorts lines into the two directions that most of their length has, 90° apart: the more level one, pointing to the
 * right, and the more upright one, pointing down.
 */
function twoDirections(lines: readonly Line[]): StraightLines {
  // Four times the angle is the same for both directions.
  let [sumC, sumS] = [0, 0];
  for (const { c, s, lengthPx } of lines) {
    const four = 4 * Math.atan2(s, c);
    sumC += lengthPx * Math.cos(four);
    sumS += lengthPx * Math.sin(four);
  }
  const tilt = Math.atan2(sumS, sumC) / 4;
  const [c0, s0] = [Math.cos(tilt), Math.sin(tilt)];
  const level: Line[] = [];
  const upright: Line[] = [];
  for (const line of [...lines].sort((a, b) => b.lengthPx - a.lengthPx)) {
    const across = c0 * line.c + s0 * line.s;
    const down = c0 * line.s - s0 * line.c;
    const isLevel = Math.abs(across) > Math.abs(down);
    const group = isLevel ? level : upright;
    if (group.length < MOST_LINES) group.push((isLevel ? across : down) > 0 ? line : reversed(line));
  }
  return { level, upright };
}

function reversed(line: Line): Line {
  const pieces = line.pieces.map(([from, to]) => [-to, -from] as const).reverse();
  return { ...line, c: -line.c, s: -line.s, pieces };
}

/** Where one line meets another: the point, and its way along the one and the other. */
interface Crossing {
  readonly point: PointPx;
  readonly onLevel: number;
  readonly onUpright: number;
}

function crossing(level: Line, upright: Line): Crossing | undefined {
  const det = level.c * upright.s - level.s * upright.c;
  if (Math.abs(det) < 0.3) return undefined;
  const [dx, dy] = [upright.x - level.x, upright.y - level.y];
  const onLevel = (dx * upright.s - dy * upright.c) / det;
  const onUpright = (dx * level.s - dy * level.c) / det;
  return { point: [level.x + onLevel * level.c, level.y + onLevel * level.s], onLevel, onUpright };
}

/** Share of a stretch of a line that has an edge. */
function supportOn({ pieces }: Line, from: number, to: number): number {
  let sum = 0;
  for (const [start, end] of pieces) {
    const common = Math.min(end, to) - Math.max(start, from);
    if (common > 0) sum += common;
  }
  return sum / (to - from);
}

function shapesBetween({ level, upright }: StraightLines, image: ColourImage): Shape[] {
  const longest = Math.max(image.widthPx, image.heightPx);
  const least = LEAST_SIDE * longest;
  const isIn = ([x, y]: PointPx) => x > -1 && y > -1 && x < image.widthPx + 1 && y < image.heightPx + 1;
  const crossings = level.map((one) => upright.map((other) => crossing(one, other)));
  const shapes: Shape[] = [];
  for (const [t, top] of crossings.entries()) {
    for (const [b, bottom] of crossings.entries()) {
      if (t === b) continue;
      // Upright lines that run from the one to the other with enough edge between them.
      const rungs: Rung[] = [];
      for (const [i, line] of upright.entries()) {
        const [above, below] = [top[i], bottom[i]];
        if (above === undefined || below === undefined) continue;
        if (below.onUpright - above.onUpright < least || !isIn(above.point) || !isIn(below.point)) continue;
        const support = supportOn(line, above.onUpright, below.onUpright);
        if (support >= LEAST_SUPPORT.side) rungs.push({ above, below, support, isFrame: line.isFrame });
      }
      const [topLine, bottomLine] = [level[t], level[b]];
      if (rungs.length < 2 || topLine === undefined || bottomLine === undefined) continue;
      shapes.push(...betweenRungs(topLine, bottomLine, rungs, least));
    }
  }
  return shapes.sort((one, other) => other.score - one.score);
}

/** An upright line between a top and a bottom. */
interface Rung {
  readonly above: Crossing;
  readonly below: Crossing;
  readonly support: number;
  readonly isFrame: boolean;
}

/** Four lines that may be the sides of a rectangle. */
export interface Shape {
  /** Clockwise from the top left, px of the shrunk copy. */
  readonly at: CornersPx;
  readonly support: number;
  readonly leastSupport: number;
  /** By how much edge it has. */
  readonly score: number;
  /** How many of its sides are the picture's frame. */
  readonly framed: number;
}

function betweenRungs(top: Line, bottom: Line, rungs: readonly Rung[], least: number): Shape[] {
  const shapes: Shape[] = [];
  for (const left of rungs) {
    for (const right of rungs) {
      const [topPx, bottomPx] = [
        right.above.onLevel - left.above.onLevel,
        right.below.onLevel - left.below.onLevel,
      ];
      if (topPx < least || bottomPx < least) continue;
      const above = supportOn(top, left.above.onLevel, right.above.onLevel);
      const below = supportOn(bottom, left.below.onLevel, right.below.onLevel);
      const leastSupport = Math.min(above, below, left.support, right.support);
      const support = (above + below + left.support + right.support) / 4;
      if (leastSupport < LEAST_SUPPORT.side || support < LEAST_SUPPORT.all) continue;
      const at: CornersPx = [left.above.point, right.above.point, right.below.point, left.below.point];
      const framed = [top, bottom, left, right].filter((side) => side.isFrame).length;
      shapes.push({ at, support, leastSupport, score: support + 0.5 * leastSupport, framed });
    }
  }
  return shapes;
}

function isSame(a: CornersPx, b: CornersPx, tolerance: number): boolean {
  return a.every(([x, y], i) => {
    const other = b[i];
    return other !== undefined && Math.abs(x - other[0]) < tolerance && Math.abs(y - other[1]) < tolerance;
  });
}
