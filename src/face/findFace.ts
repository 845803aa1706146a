import { distanceOf } from '../core/vector.js';
import type { CodeImage, ColourImage, CornersPx, PartialCornersPx, PointPx } from '../core/image.js';
import type { Px } from '../core/units.js';
import type { EdgeLine } from '../imaging/edgeLine.js';
import { applyHomography, homographyFromSquare } from '../imaging/homography.js';
import { median } from '../signal/median.js';
import type { CameraBelief } from './camera.js';
import { endsSeen, type FaceEdges } from './faceEdges.js';
import { layersBetween } from './layersBetween.js';
import { findQuads, type Quad } from './findQuads.js';
import { quickShape, shapeOfCorners } from './shape.js';
import { sightOf, type Fit, type Sight } from './sight.js';

/** What is searched for the face, and what is known of it. */
export interface FaceSearch {
  /** Shrunk upright copy in colour. */
  readonly shrunk: ColourImage;
  /** The whole photo, upright, full resolution. */
  readonly codes: CodeImage;
  /** Linear light of each code. */
  readonly lut: Float32Array;
  readonly camera: CameraBelief;
  /** Height ÷ width of the face as it was sliced. */
  readonly heightPerWidth?: number;
  /** Height of the face ÷ layer height as they are told. */
  readonly layers?: number;
  /** Corners that were clicked, upright px, in the order of the tower as printed. */
  readonly knownCorners: PartialCornersPx;
  /** Outlines of what is known not to be the face: cards and rulers, upright px. */
  readonly keepOut: readonly (readonly PointPx[])[];
  /** What earlier searches of the same photo have seen of it. @default nothing */
  readonly sight?: Sight;
}

type Search = FaceSearch & Required<Pick<FaceSearch, 'sight'>>;

/** A face that was found, or why none was. */
export type FoundFace =
  | {
      readonly state: 'found';
      readonly cornersPx: CornersPx;
      /** Top, right, bottom, left of the face. */
      readonly edges: readonly [EdgeLine, EdgeLine, EdgeLine, EdgeLine];
      /** Standard uncertainty of each coordinate of a corner, px. */
      readonly cornerSdPx: Px;
      readonly confidence: number;
    }
  | {
      readonly state: 'unclear' | 'cut-off' | 'not-found';
      readonly guesses: readonly { readonly cornersPx: CornersPx; readonly confidence: number }[];
    };

/** A candidate with what speaks for it, natural logarithms of how much likelier it makes a face than anything else. */
interface Candidate {
  readonly cornersPx: CornersPx;
  readonly quad: Quad;
  readonly score: number;
  /** The part of it that tells the told face from any other. */
  readonly shapeScore: number;
  /** The part of it that the stripes on it make. */
  readonly stripesScore: number;
  /** For top, right, bottom, left how much of it has the same surface on both sides; none before it is looked at. */
  readonly goingOn: readonly number[];
}

/** Candidates of the shrunk copy that are looked at in full. */
const MOST_QUADS = 40;
/** Guesses that are returned. */
const MOST_GUESSES = 3;
/** What the frame cuts is called a face from here on; it is refused in any case. */
const LEAST_CUT_CONFIDENCE = 0.6;
/** Candidates whose surface is looked at. */
const MOST_LOOKED_AT = 10;
/** Candidates whose edges are fitted at full resolution. */
const MOST_FITTED = 3;
/** Those whose odds are this far behind the best one's cannot win by a better fit. */
const FITTED_WITHIN = 4;
/** Standard uncertainty of coarse corners, px of the shrunk copy. */
const COARSE_SD = 1;
/** A click is near its corner within this share of the photo's longer side. */
const CLICK_REACH = 0.03;
/** Corners closer than this share of the photo's longer side are those of one face, differently fitted. */
const SAME_FACE = 0.012;
/**
 * Below this a face is not accepted: of drawn scenes that were looked at (seeds 600001 to 600020, 800001 to 800020) the
 * surest face with a corner off by more than 25 px has 0.989, and the photographs of testimages have 0.99 at least.
 */
export const LEAST_CONFIDENCE = 0.99;

/**
 * Finds the tower's face in a photo: quadrilaterals of a shrunk copy, judged by their shape under the camera, the
 * layers on them, their colour and their edges; the best are fitted at full resolution and judged again.
 * @param search - Photo, and what is known.
 * @returns The face with its edges; or that two candidates are about as good, that the best one touches the frame, or
 * that none is good enough, with the best guesses.
 */
export function findFace(search: FaceSearch): FoundFace {
  const seen = withSight(search);
  const whole = amongWhole(seen);
  if (whole.state === 'found' || whole.state === 'unclear') return whole;
  // Only then: a face that the frame cuts has no shape to be known by.
  const cut = amongCut(seen);
  return cut.length > 0
    ? { state: 'cut-off', guesses: [...cut, ...whole.guesses].slice(0, MOST_GUESSES) }
    : whole;
}

/**
 * As `findFace`, where faces that the frame cuts do not matter.
 * @param search - Photo, and what is known.
 * @returns As `findFace`; never that the frame cuts a face.
 */
export function findWholeFace(search: FaceSearch): FoundFace {
  return amongWhole(withSight(search));
}

function withSight(search: FaceSearch): Search {
  return { ...search, sight: search.sight ?? sightOf(search) };
}

/** Px of the photo for each of the shrunk copy. */
function scaleOf({ codes, shrunk }: FaceSearch): number {
  return (codes.shape[1] ?? 0) / shrunk.widthPx;
}

/** Faces that are in the picture as a whole. */
function amongWhole(search: Search): FoundFace {
  const scale = scaleOf(search);
  const accepts = (cornersPx: CornersPx) =>
    isAllowed(cornersPx, search) && turns({ cornersPx }, search).length > 0;
  const quads = findQuads(search.shrunk, { scale, most: MOST_QUADS, accepts }, search.sight.shapes);
  const rough = quads
    .flatMap((quad) =>
      turns(quad, search).map((cornersPx) => judgeShape(cornersPx, quad, search, COARSE_SD * scale)),
    )
    .sort((a, b) => b.score - a.score)
    .slice(0, MOST_LOOKED_AT)
    .map((candidate) => judgeLook(candidate, search))
    .sort((a, b) => b.score - a.score);
  const [best] = rough;
  if (best === undefined) return { state: 'not-found', guesses: [] };
  return decide(rough, search, scale);
}

/** Faces that the frame cuts: what touches it and looks like layers, with its confidence. */
function amongCut(search: Search): { cornersPx: CornersPx; confidence: number }[] {
  const accepts = (cornersPx: CornersPx) => isAllowed(cornersPx, search);
  const quads = findQuads(
    search.shrunk,
    { scale: scaleOf(search), most: MOST_LOOKED_AT, cutByFrame: true, accepts },
    search.sight.shapes,
  );
  return quads
    .map((quad) => {
      const score = ODDS.before + edgeOdds(quad, search);
      return judgeLook(
        { cornersPx: quad.cornersPx, quad, score, shapeScore: 0, stripesScore: 0, goingOn: [] },
        search,
      );
    })
    .sort((a, b) => b.score - a.score)
    .slice(0, 1)
    .map(({ cornersPx, score }) => ({ cornersPx, confidence: 1 / (1 + Math.exp(-score)) }))
    .filter(({ confidence }) => confidence > LEAST_CUT_CONFIDENCE);
}

/** A candidate whose edges were fitted. */
interface Fitted extends Candidate {
  readonly edges: FaceEdges;
  /** Whether one side runs along an edge beside the one that was fitted. */
  readonly isBeside: boolean;
}

/** Fits the best candidates, judges them again and weighs them against all others. */
function decide(rough: readonly Candidate[], search: Search, scale: number): FoundFace {
  const near = rough.filter(
    ({ score }, i) => i < MOST_FITTED && score > (rough[0]?.score ?? 0) - FITTED_WITHIN,
  );
  const unfitted: Candidate[] = [];
  const all = near.flatMap((candidate) => {
    const fit = search.sight.fitAt(candidate.cornersPx);
    if (fit !== undefined) return judgeFitted(fit, candidate.quad, search);
    unfitted.push(candidate);
    return [];
  });
  // An edge close beside another one is weighed against it there, by the layers.
  const alone = all.filter(({ isBeside }) => !isBeside);
  const fitted = all.map((one) => ({ ...one, score: one.score - nestedOdds(one, alone) }));
  fitted.sort((a, b) => b.score - a.score);
  const [best] = fitted;
  const samePx = SAME_FACE * scale * Math.max(search.shrunk.widthPx, search.shrunk.heightPx);
  const left = [...unfitted, ...rough.slice(near.length)];
  const others = [...fitted, ...left.map((one) => ({ ...one, score: one.score - nestedOdds(one, alone) }))];
  const guesses = (list: readonly Candidate[]) =>
    distinct(list, samePx)
      .slice(0, MOST_GUESSES)
      .map((one) => ({ cornersPx: one.cornersPx, confidence: confidenceOf(one, list, samePx) }));
  if (best === undefined) return { state: 'not-found', guesses: guesses(rough) };
  const confidence = confidenceOf(best, others, samePx);
  const { cornersPx, edges } = best.edges;
  const cornerSdPx = Math.hypot(best.edges.cornerSdPx, spreadPx(best, fitted, samePx));
  const widthPx = distanceOf(cornersPx[0], cornersPx[1]);
  // Whatever is no number is no confidence either.
  if (!(confidence >= LEAST_CONFIDENCE && cornerSdPx < MOST_SD * widthPx)) {
    return { state: best.score > 0 ? 'unclear' : 'not-found', guesses: guesses(others) };
  }
  return { state: 'found', cornersPx, edges, cornerSdPx, confidence };
}

/** An edge lies further in than another one from here on, px; so wide a strip between them is looked at by itself. */
const FURTHER_IN_PX = 3;
const WIDE_STRIP_PX = 30;
/** Sides of one face lie this near in two candidates, as a share of their height: a wall, a lid or a brim is wider. */
const SHARED_SIDE = 0.012;

/**
 * What speaks against a candidate that has another one in it, with another surface between their edges: the tower's own
 * side, its lid or its brim is then part of it. A line across the face has the face on both of its sides.
 */
function nestedOdds(outer: Candidate, all: readonly Candidate[]): number {
  let most = 0;
  for (const inner of all) {
    if (inner === outer || !(inner.score > 0)) continue;
    const tolerancePx = SHARED_SIDE * heightOf(outer.cornersPx);
    const further = inner.cornersPx.map((_, side) => furtherInPx(inner.cornersPx, outer.cornersPx, side));
    if (further.some((px) => px < -tolerancePx)) continue;
    const odds = further.reduce((sum, px, side) => {
      const isEnd = (inner.goingOn[side] ?? 1) < GOING_ON;
      if (px < FURTHER_IN_PX || !isEnd) return sum;
      if (px > WIDE_STRIP_PX) return sum + ODDS.nested;
      // A narrow strip beside an upright edge may as well be a ripple.
      return side % 2 === 0 ? sum + ODDS.nestedNarrow : sum;
    }, 0);
    most = Math.max(most, odds);
  }
  return most;
}

/** How far one candidate's side lies inside the other's, px in its middle. */
function furtherInPx(inner: CornersPx, outer: CornersPx, side: number): Px {
  const next = (side + 1) % 4;
  const [from, to, a, b] = [outer[side], outer[next], inner[side], inner[next]];
  if (!from || !to || !a || !b) return 0;
  const length = distanceOf(from, to);
  const [nx, ny] = [(to[1] - from[1]) / length, (from[0] - to[0]) / length];
  return nx * (from[0] - (a[0] + b[0]) / 2) + ny * (from[1] - (a[1] + b[1]) / 2);
}

/**
 * Corners less sure than this share of the width are refused: 0.8 mm on 80 mm. Less is counted in the reading's interval:
 * it makes lengths along the wall unsure by √2 of it, and by as much again where the face tilts. Tried on copies of the
 * photographs at 1800 to 2800 px, whose corners are unsure by up to 0.9 %: the interval held the truth.
 */
const MOST_SD = 0.01;

/** How far the other places that a face's edges may have lie from the likeliest, rms by their odds, px for each coordinate. */
function spreadPx(best: Fitted, all: readonly Fitted[], samePx: Px): Px {
  let [sum, weights] = [0, 0];
  for (const one of all) {
    if (!isSameFace(one, best, samePx)) continue;
    const weight = Math.exp(one.score - best.score);
    const squares = one.cornersPx.map((corner, i) => distanceOf(corner, best.cornersPx[i] ?? corner) ** 2);
    weights += weight;
    sum += (weight * squares.reduce((a, b) => a + b, 0)) / (2 * squares.length);
  }
  return Math.sqrt(sum / weights);
}

/** A fitted face, and the same face with one side along another edge close by. */
function judgeFitted({ edges, others: besides }: Fit, quad: Quad, search: Search): Fitted[] {
  const judge = (fitted: FaceEdges): Fitted => {
    const seen = asFitted(quad, fitted);
    const judged = judgeLook(judgeShape(fitted.cornersPx, seen, search, FINE_SD_PX), search);
    return {
      ...judged,
      edges: lessSure(fitted, Math.hypot(outOfShapePx(fitted.cornersPx, search), unseenEndsPx(fitted))),
      isBeside: false,
      score: judged.score - ODDS.rough * roughness(fitted) + endOdds(fitted) - softSideOdds(fitted),
    };
  };
  const first = judge(edges);
  if (!(first.score > 0)) return [first];
  const others = besides().map((other) => {
    const one = judge(other);
    return { ...one, isBeside: true, score: one.score + ODDS.beside };
  });
  return withLayers([first, ...others], search);
}

/**
 * How far one of the edges is off if the face has the told shape, px: none where that is within what corners, camera and
 * print may do to it.
 */
function outOfShapePx(cornersPx: CornersPx, { camera, heightPerWidth }: FaceSearch): Px {
  if (heightPerWidth === undefined) return 0;
  const { value, sd } = shapeOfCorners(cornersPx, FINE_SD_PX, camera).heightPerWidth;
  const off = Math.abs(Math.log(value / heightPerWidth));
  return off > Math.hypot(sd / value, PRINTED_SHAPE_SD) ? off * heightOf(cornersPx) : 0;
}

/** Corners of which one edge is off by so much: two of four, in one of two coordinates. */
function lessSure(edges: FaceEdges, offPx: Px): FaceEdges {
  return { ...edges, cornerSdPx: Math.hypot(edges.cornerSdPx, offPx / 2) };
}

/** An edge whose middle is less sure than this is none that a printer makes; so much less sure counts in full, px. */
const ROUGH = { fromPx: 0.25, fullPx: 0.75 } as const;

/** How far from straight the roughest edge is, 0 to 1: lines through what belongs to two edges are rough. */
function roughness({ edges }: FaceEdges): number {
  const roughestPx = Math.max(...edges.map((edge) => (edge.bendsPx.length > 0 ? edge.sdPx : 0)));
  return limited((roughestPx - ROUGH.fromPx) / (ROUGH.fullPx - ROUGH.fromPx), 0, 1);
}

/**
 * Edges of a face are seen up to where they meet. Near one corner something may hide them or lie in a shadow; where they
 * are missing at two ends, a side runs past the face's end: it has the tower's own side or its lid in it. The mean of the
 * two worst ends, each against the edge's middle: 0 to 0.25 on 9 such candidates of 120 drawn scenes, 0.25 to 1 on faces.
 */
const ENDS_SEEN = { even: 0.45, perShare: 6, least: -3, most: 1.2 } as const;

function endOdds(face: FaceEdges): number {
  const ends = endsSeen(face).flat();
  const [worst = 0, second = 0] = ends.map((seen) => Math.min(1, seen)).sort((one, other) => one - other);
  const { even, perShare, least, most } = ENDS_SEEN;
  return limited(perShare * ((worst + second) / 2 - even), least, most);
}

/** An edge of which less than this is seen near its end bends away from its line; by so much, as a share of its length. */
const UNSEEN_END = { share: 0.35, bends: 0.008 } as const;

/** How far edges may leave their lines where they are not seen, px, as an edge that is off by that (see `lessSure`). */
function unseenEndsPx(face: FaceEdges): Px {
  const { cornersPx } = face;
  const squares = endsSeen(face).flatMap((ends, side) => {
    const [from, to] = [cornersPx[side], cornersPx[(side + 1) % 4]];
    const offPx = UNSEEN_END.bends * (from && to ? distanceOf(from, to) : 0);
    return ends.map((seen) => (seen < UNSEEN_END.share ? offPx * offPx : 0));
  });
  // One corner of an edge's two.
  return Math.sqrt(squares.reduce((sum, square) => sum + square, 0) / 2);
}

/** A side that spreads by so many times as much as the other edges is where two sides of a tower meet. */
const SOFT_SIDE = 2.5;

function softSideOdds({ edges }: FaceEdges): number {
  const sharpPx = median(edges.map(({ blurPx }) => blurPx));
  const soft = [edges[1], edges[3]].some(({ blurPx }) => blurPx > SOFT_SIDE * sharpPx);
  return soft ? ODDS.softSide : 0;
}

/** Edges may show at full resolution that the shrunk copy does not show. */
function asFitted(quad: Quad, { edges }: FaceEdges): Quad {
  const supports = edges.map(({ support }) => support);
  const mean = supports.reduce((a, b) => a + b, 0) / supports.length;
  return {
    ...quad,
    support: Math.max(quad.support, mean),
    leastSupport: Math.max(quad.leastSupport, Math.min(...supports)),
  };
}

/** Deviation of a printed face's height from its layers, natural logarithm, and how often their count misleads. */
const LAYERS_SD = 0.0015;
const LAYERS_MISLEAD = 0.01;
/** Counts that are found lie evenly over so much, natural logarithm. */
const LAYERS_SPREAD = 0.09;

/** A height that is off by this many standard uncertainties is as uncertain as it is off. */
const LEAST_OFF_Z = 1.5;

/** Adds what the count of layers says, where it can be seen: it is asked of the first, and the others' heights compared. */
function withLayers(all: readonly Fitted[], { codes, layers }: FaceSearch): Fitted[] {
  const [first] = all;
  const count = first && layers !== undefined ? layersBetween(codes, first.cornersPx, layers) : undefined;
  if (first === undefined || layers === undefined || count === undefined) {
    // Without a count the fit's own choice stays; another place makes it less sure.
    const most = (first?.score ?? 0) + ODDS.beside;
    return all.map((one) => (one.isBeside ? { ...one, score: Math.min(one.score, most) } : one));
  }
  const toldPx = heightOf(first.cornersPx) * (layers / count.value);
  const sd = Math.hypot(count.sd / layers, LAYERS_SD);
  const oddsAt = (z: number) => {
    const normal = Math.exp((-z * z) / 2) / (sd * Math.sqrt(2 * Math.PI));
    return Math.log(normal * LAYERS_SPREAD + LAYERS_MISLEAD);
  };
  return all.map((one) => {
    const offPx = heightOf(one.cornersPx) - toldPx;
    const z = offPx / toldPx / sd;
    const odds = oddsAt(z);
    return {
      ...one,
      edges: lessSure(one.edges, Math.abs(z) > LEAST_OFF_Z ? Math.abs(offPx) : 0),
      // The tower's other sides have as many layers: what is seen near the corners tells whether one is in it.
      score:
        one.score +
        ODDS.texture -
        one.stripesScore +
        odds +
        // A line on the face is no end of it, but between lines the count does not fit.
        (Math.abs(z) < LEAST_OFF_Z ? endlessOdds([one.goingOn[0] ?? 0, one.goingOn[2] ?? 0]) : 0),
      shapeScore: one.shapeScore + odds,
    };
  });
}

function heightOf([a, b, c, d]: CornersPx): Px {
  return (distanceOf(a, d) + distanceOf(b, c)) / 2;
}

/** Fitted corners against the printed outline's own irregularity, px, for the judging of shapes. */
const FINE_SD_PX = 2;

/**
 * How near to its corner a click must lie.
 * @param codes - The whole photo.
 * @returns The largest distance, px.
 */
export function clickReachPx(codes: CodeImage): Px {
  return CLICK_REACH * Math.max(codes.shape[0] ?? 0, codes.shape[1] ?? 0);
}

/** Whether a shape has the clicked corners and keeps out of what is known to be something else. */
function isAllowed(cornersPx: CornersPx, { knownCorners, codes, keepOut }: FaceSearch): boolean {
  const reach = clickReachPx(codes);
  const isClicked = allOrders(cornersPx).some((order) => hasClicks(order, knownCorners, reach));
  return isClicked && !keepOut.some((outline) => overlaps(outline, cornersPx));
}

/** The corners begun at each of them. */
function allOrders([a, b, c, d]: CornersPx): readonly CornersPx[] {
  return [
    [a, b, c, d],
    [d, a, b, c],
    [c, d, a, b],
    [b, c, d, a],
  ];
}

/** Whether each click is near its own corner. */
function hasClicks(cornersPx: CornersPx, clicks: PartialCornersPx, reachPx: Px): boolean {
  return cornersPx.every((corner, i) => {
    const click = clicks[i];
    return click === undefined || distanceOf(click, corner) < reachPx;
  });
}

/** Shapes this far off the told one are none, natural logarithm of height ÷ width and radians of skew. */
const FAR_OFF = 0.1;

/**
 * The orders of corners that fit the told shape: as they lie in the photo, or with the tower on its side; where corners
 * were clicked, those that begin where the clicks say.
 */
function turns({ cornersPx }: Pick<Quad, 'cornersPx'>, search: FaceSearch): readonly CornersPx[] {
  const { heightPerWidth, camera, knownCorners, codes } = search;
  const shape = quickShape(cornersPx, camera);
  if (shape === undefined || Math.abs(shape.skewRad) > FAR_OFF + shape.spread) return [];
  const fits = (logRatio: number) =>
    heightPerWidth === undefined || Math.abs(logRatio - Math.log(heightPerWidth)) < FAR_OFF + shape.spread;
  const isClicked = knownCorners.some((click) => click !== undefined);
  const reach = clickReachPx(codes);
  // Nobody can see whether a tower stands on its head: without a click it does not.
  const orders = allOrders(cornersPx).slice(0, isClicked ? undefined : 2);
  return orders.filter(
    (order, i) =>
      fits(i % 2 === 0 ? shape.logRatio : -shape.logRatio) && hasClicks(order, knownCorners, reach),
  );
}

/** Natural logarithms of how much likelier each sight makes a face; the last are limits. Chosen on drawn scenes. */
const ODDS = {
  /** That one of the quadrilaterals of the told shape is the face. */
  before: -4,
  /** A tower on its side is rare, and so is a second one. */
  lying: -2,
  second: -2,
  /** Shapes of other things spread over this much, ln(height ÷ width); so many faces in a thousand are out of shape. */
  otherShapes: 1.4,
  outOfShape: 0.002,
  skew: 6,
  texture: 5,
  click: 3,
  endless: 7,
  /** An edge beside the one that was fitted. */
  beside: -0.5,
  /** An edge that is not straight. */
  rough: 3,
  /** An upright edge that is not sharp. */
  softSide: 2,
  /** Another candidate lies in it, with another surface between: a wide strip of it, and a narrow one at top or bottom. */
  nested: 3,
  nestedNarrow: 2,
} as const;
/** A face ends at its sides: up to this share of a side may look alike on both sides by chance. */
const GOING_ON = 0.35;
/** Stripes of this much (see `layerTexture`) may be either; so much more or less decides. */
const STRIPES = { even: 0.6, decides: 0.3 } as const;
/** Deviation of a printed face from its shape, ln(height ÷ width) and radians. */
const PRINTED_SHAPE_SD = 0.006;

/** What shape and edges say. */
function judgeShape(cornersPx: CornersPx, quad: Quad, search: FaceSearch, cornerSdPx: Px): Candidate {
  const { camera, heightPerWidth, knownCorners } = search;
  const shape = shapeOfCorners(cornersPx, cornerSdPx, camera);
  const { value, sd } = shape.heightPerWidth;
  const skewZ = shape.skewRad.value / Math.hypot(shape.skewRad.sd, PRINTED_SHAPE_SD);
  const isLying =
    knownCorners.every((click) => click === undefined) &&
    distanceOf(cornersPx[0], quad.cornersPx[0]) > distanceOf(cornersPx[0], quad.cornersPx[3]);
  const shapeScore =
    heightPerWidth === undefined ? 0 : shapeOdds(Math.log(value / heightPerWidth), sd / value);
  const score =
    ODDS.before +
    (isLying ? ODDS.lying : 0) +
    shapeScore +
    Math.max(-ODDS.skew, (-skewZ * skewZ) / 2) +
    aslantOdds(cornersPx) +
    edgeOdds(quad, search);
  return { cornersPx, quad, score, shapeScore, stripesScore: 0, goingOn: [] };
}

/**
 * Opposite sides of a face that is photographed square-on differ by no more than this, natural logarithm; so much more
 * makes it unlikely: of 167 drawn faces three have more than 0.2. The top of a box seen from the side has any shape within
 * its uncertainty, and its foreshortened texture looks like layers.
 */
const ASLANT = { most: 0.22, sd: 0.04, odds: 6 } as const;

function aslantOdds([a, b, c, d]: CornersPx): number {
  const across = Math.abs(Math.log(distanceOf(a, b) / distanceOf(d, c)));
  const up = Math.abs(Math.log(distanceOf(a, d) / distanceOf(b, c)));
  const beyond = Math.max(0, Math.max(across, up) - ASLANT.most) / ASLANT.sd;
  return Math.max(-ASLANT.odds, (-beyond * beyond) / 2);
}

/** What edges, size and clicks say. */
function edgeOdds({ support, leastSupport, cornersPx }: Quad, { codes, knownCorners }: FaceSearch): number {
  const areaShare = areaOf(cornersPx) / ((codes.shape[0] ?? 1) * (codes.shape[1] ?? 1));
  return (
    limited(8 * (support - 0.85), -3, 1) +
    limited(4 * (leastSupport - 0.6), -2, 1) +
    limited(Math.log(areaShare / 0.12), -2, 1) +
    ODDS.click * knownCorners.filter((click) => click !== undefined).length
  );
}

/** What the surface adds. */
function judgeLook(candidate: Candidate, { sight }: Search): Candidate {
  const { texture, uniform, goingOn } = sight.lookAt(candidate.cornersPx);
  const striped = texture === undefined ? -1 : Math.tanh((texture - STRIPES.even) / STRIPES.decides);
  return {
    ...candidate,
    goingOn,
    stripesScore: ODDS.texture * striped,
    score:
      candidate.score +
      ODDS.texture * striped +
      limited(12 * (uniform - 0.85), -5, 1.2) -
      endlessOdds(goingOn),
  };
}

/** What speaks against sides that have the same surface beyond them. */
function endlessOdds(goingOn: readonly number[]): number {
  const endless = goingOn.reduce((sum, share) => sum + Math.max(0, share - GOING_ON), 0);
  return (ODDS.endless * endless) / (1 - GOING_ON);
}

/** Normal around the told shape, with few outliers, against the spread of other shapes. */
function shapeOdds(off: number, relativeSd: number): number {
  const sd = Math.hypot(relativeSd, PRINTED_SHAPE_SD);
  const normal = Math.exp(-((off / sd) ** 2) / 2) / (sd * Math.sqrt(2 * Math.PI));
  return Math.log((normal + ODDS.outOfShape / (2 * FAR_OFF)) * ODDS.otherShapes);
}

/**
 * How sure it is that a candidate is the face. Of candidates that overlap it only one can be a face, and all that is seen
 * counts. One that stands apart may be another tower: then only the shape tells which of the two was told.
 */
function confidenceOf(candidate: Candidate, all: readonly Candidate[], samePx: number): number {
  const others = all.filter((other) => !isSameFace(other, candidate, samePx));
  let rivals = 0;
  for (const rival of distinct(others, samePx)) {
    const isApart = !overlaps(rival.cornersPx, candidate.cornersPx);
    rivals += isApart
      ? Math.exp(rival.shapeScore - candidate.shapeScore) / (1 + Math.exp(-rival.score - ODDS.second))
      : Math.exp(rival.score - candidate.score);
  }
  return 1 / ((1 + Math.exp(-candidate.score)) * (1 + rivals));
}

/** The best of each place. */
function distinct(candidates: readonly Candidate[], samePx: number): Candidate[] {
  const list: Candidate[] = [];
  for (const one of [...candidates].sort((a, b) => b.score - a.score)) {
    if (!list.some((other) => isSameFace(one, other, samePx))) list.push(one);
  }
  return list;
}

/** Whether two candidates have the same corners, in whatever order. */
function isSameFace(a: Candidate, b: Candidate, samePx: number): boolean {
  return a.cornersPx.every((corner) => b.cornersPx.some((other) => distanceOf(corner, other) < samePx));
}

/** Whether an outline covers a good part of a shape, or lies in it. */
function overlaps(outline: readonly PointPx[], cornersPx: CornersPx): boolean {
  if (outline.length < 3) return false;
  const h = homographyFromSquare(cornersPx);
  const places = [0.1, 0.3, 0.5, 0.7, 0.9];
  const covered = places.flatMap((u) => places.filter((v) => isInside(applyHomography(h, u, v), outline)));
  const lyingIn = outline.filter((point) => isInside(point, cornersPx));
  return covered.length > 6 || lyingIn.length === outline.length;
}

/** Whether a point lies in a polygon: an odd number of edges to its right. */
function isInside([x, y]: PointPx, polygon: readonly PointPx[]): boolean {
  let inside = false;
  for (const [i, [x1, y1]] of polygon.entries()) {
    const [x0, y0] = polygon.at(i - 1) ?? [x1, y1];
    if (y0 > y !== y1 > y && x < x0 + ((y - y0) / (y1 - y0)) * (x1 - x0)) inside = !inside;
  }
  return inside;
}

function areaOf(cornersPx: CornersPx): number {
  let sum = 0;
  for (const [i, [x1, y1]] of cornersPx.entries()) {
    const [x0, y0] = cornersPx.at(i - 1) ?? [x1, y1];
    sum += x0 * y1 - x1 * y0;
  }
  return Math.abs(sum) / 2;
}

function limited(value: number, low: number, high: number): number {
  return Math.min(high, Math.max(low, value));
}
