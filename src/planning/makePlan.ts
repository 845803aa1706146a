import { combineSd } from '../core/estimate.js';
import { InputError } from '../core/errors.js';
import { clamp } from '../core/vector.js';
import type { DampingRatio, Hz, Mm, MmPerS, MmPerS2, Px, Seconds } from '../core/units.js';
import { shaperImpulses } from '../physics/shapers.js';
import { checkPrintRecord, PRINT_RECORD_SCHEMA, type PrintRecord } from '../print/record.js';
import { ASSUMED_CORNER_SPEED, settlePrint } from '../print/settle.js';
import { predictUncertainty } from './predict.js';
import { checkTowerShape } from './towerMesh.js';

/** What is known before a test tower is printed. */
export interface PlanNeeds {
  /** The axes that one tower is to measure, by the user's own names; the first one's face is at the right, the other's in front. */
  readonly axes: readonly string[];
  readonly machine?: string;
  /** The largest acceleration and speed that are safe on this machine, by its user: never guessed. */
  readonly maxAccelerationMmPerS2: MmPerS2;
  readonly maxSpeedMmPerS: MmPerS;
  readonly layerHeightMm: Mm;
  readonly nozzleMm: Mm;
  readonly bedMm: readonly [widthMm: Mm, depthMm: Mm];
  /** Speed kept through a corner; not told: assumed. */
  readonly cornerSpeedMmPerS?: MmPerS;
  /** About where each axis swings, one for all or one for each; none: anywhere that is usual. */
  readonly ideaHz?: readonly Hz[];
  /** What earlier readings say of each axis: the ladder is then narrower. */
  readonly earlier?: readonly EarlierAxis[];
  readonly knownPitchesMm?: readonly Mm[];
  /** Which way round the outline is printed, seen from above. @default 'counterclockwise' */
  readonly turns?: 'counterclockwise' | 'clockwise';
  /** Width of a slot in each face; none: no slot. */
  readonly slotMm?: Mm;
  /** The camera: longer side of its photos, and its focal length on 35-mm film. @default 4000 px, 26 mm */
  readonly photoPx?: Px;
  readonly focalLength35Mm?: Mm;
}

/** An axis that was measured before. */
export interface EarlierAxis {
  readonly axis: string;
  readonly naturalHz: Hz;
  /** Standard uncertainty. */
  readonly sdHz: Hz;
  readonly dampingRatio: DampingRatio;
}

/** What is expected of an axis at one frequency. */
export interface Expected {
  readonly naturalHz: Hz;
  readonly dampingRatio: DampingRatio;
  /** Standard uncertainty of the frequency; absent where the plan does not show such an axis. */
  readonly sdHz?: Hz;
  readonly fromNullSdHz?: Hz;
  readonly fromSpacingSdHz?: Hz;
}

/** One option of a choice. */
export interface PlanOption {
  /** The option in its unit: mm/s, share of the range about its middle, or mm. */
  readonly value: number;
  readonly taken: boolean;
  /** Standard uncertainty in the middle of the range, Hz; absent: not measured so. */
  readonly sdHz?: Hz;
  /** Whole swings in the ramp, at the lower and the upper end of the range. */
  readonly rampSwings: readonly [number, number];
  readonly pxPerRipple: Px;
  readonly minutes: number;
}

/** Something about a plan that its user should know. */
export type PlanNote =
  | { readonly code: 'corner-speed-assumed'; readonly mmPerS: MmPerS }
  | { readonly code: 'whole-swings'; readonly fromHz: Hz; readonly toHz: Hz }
  | { readonly code: 'not-shown'; readonly fromHz: Hz; readonly toHz: Hz }
  | { readonly code: 'pitch-inside'; readonly pitchMm: Mm; readonly hz: Hz }
  | { readonly code: 'few-px-per-ripple'; readonly px: Px; readonly aboveHz: Hz }
  | { readonly code: 'fine-ripples'; readonly spacingMm: Mm; readonly nozzleMm: Mm }
  | { readonly code: 'short-layers'; readonly seconds: Seconds };

/** A test tower before it is printed. Plain data. */
export interface Plan {
  readonly schema: 'stillband/plan@1';
  /** One print record for each axis: what to print, and what to tell when it is measured. */
  readonly records: readonly PrintRecord[];
  /** The limits that were told. */
  readonly limits: { readonly accelerationMmPerS2: MmPerS2; readonly speedMmPerS: MmPerS };
  /** Frequencies of an axis that the tower is planned for. */
  readonly rangeHz: { readonly low: Hz; readonly high: Hz; readonly from: 'usual' | 'idea' | 'reading' };
  readonly ladder: { readonly fromHz: Hz; readonly toHz: Hz };
  readonly speedMmPerS: MmPerS;
  readonly accelerationMmPerS2: MmPerS2;
  readonly tower: {
    readonly widthMm: Mm;
    readonly heightMm: Mm;
    readonly layers: number;
    readonly layerS: Seconds;
    readonly minutes: number;
  };
  readonly ramp: { readonly seconds: Seconds; readonly swings: readonly [number, number] };
  /** Wall behind the corner that the longest impulse train hides. */
  readonly maskedMm: Mm;
  readonly photo: {
    readonly distanceMm: Mm;
    readonly pxPerMm: number;
    /** At the lower and the upper end of the range. */
    readonly pxPerRipple: readonly [Px, Px];
    /** Where the marker card beside the face has to be in the picture too. */
    readonly withCard: { readonly distanceMm: Mm; readonly pxPerRipple: readonly [Px, Px] };
    readonly lampDistanceMm: Mm;
  };
  /** At the lower end, in the middle and at the upper end of the range. */
  readonly expected: readonly [Expected, Expected, Expected];
  readonly choices: {
    readonly speed: readonly PlanOption[];
    readonly range: readonly PlanOption[];
    readonly height: readonly PlanOption[];
  };
  readonly notes: readonly PlanNote[];
}

/** Where most axes of printers swing that need shaping (20 to 100 Hz are met with; common practice, no source). */
const USUAL_RANGE: readonly [Hz, Hz] = [22, 60];
/** An idea may be so far off: DESIGN 5 asks for ± 30 %. */
const IDEA_SPREAD = 0.3;
/** Of an earlier reading: how far the axis may have moved, beside three standard uncertainties. */
const EARLIER_SPREAD = 0.05;
/** The ladder reaches so much beyond the range at both ends, where a null needs ringing on both sides. */
const BEYOND = { usual: 1.18, idea: 1.18, reading: 1.22 } as const;
/** Amid what axes have: 0.03 to 0.15 (common practice, no source). */
const USUAL_DAMPING: DampingRatio = 0.08;
/** What the shaper is set to: amid what axes have. */
const SHAPER = { family: 'ZV', dampingRatio: 0.1 } as const;
/** A ramp that is so near to whole swings excites next to nothing. */
const NEAR_WHOLE = 0.15;
/** Ramps of more swings are longer than any swing lasts. */
const MOST_SWINGS = 20;
/** Size of a tower: a marker card is 88 mm wide, and a tower that is twice as high as need be sways by itself. */
const WIDTH_MM = { most: 90, least: 60 } as const;
const HEIGHT_MM = 68;
/** Room around the tower on the bed: its foot and a brim. */
const BED_MARGIN_MM: Mm = 12;
/** Where the shaper is still off: foot and first layers; and what is left above the ladder. */
const LADDER_FROM_MM: Mm = 4;
const ABOVE_LADDER_MM: Mm = 0.8;
/** A phone's camera by its header: 4:3 pictures of 12 megapixels, 26 mm on 35-mm film (common practice, no source). */
const PHOTO_PX: Px = 4000;
const FOCAL_LENGTH_35_MM: Mm = 26;
const FILM_DIAGONAL_MM = 43.2666;
/** Nearer than this phones do not focus (common practice, no source); farther away nothing is gained. */
const NEAREST_MM: Mm = 120;
const FARTHEST_MM: Mm = 300;
/** Share of the picture's longer side that may be filled. */
const FILLED = 0.85;
const CARD_BESIDE_MM: Mm = 95;
const WANTED_PX: Px = 50;
const ADVISED_PX: Px = 40;
/** A bead draws ripples that are wider than so many nozzles (common practice, no source). */
const LEAST_NOZZLES = 2.5;
/** Below this, slowing for short layers sets in where it is not switched off (5 to 10 s; common practice, no source). */
const SHORT_LAYER_S: Seconds = 5;
/** The lamp stands so many face widths away: README, "Will this photo do?". */
const LAMP_WIDTHS = 5;
const SPEED_STEP = 1.2;
const LEAST_SPEED: MmPerS = 25;
/** A lower acceleration is taken where it costs no more than this of the uncertainty. */
const GENTLE = 1.03;
/** What a frequency that is not shown counts as, Hz. */
const NOT_SHOWN_HZ = 4;
const LEAST_SIGNAL = 10;

/**
 * Plans a test tower that gives one or two axes, and predicts how well their frequency will be known.
 * @param needs - What is known; its numbers are checked as a print record's are.
 * @returns The plan.
 * @throws {InputError} `plan-impossible` where nothing can be measured within the limits; `record-field`, also
 * where no tower has such a slot.
 */
export function makePlan(needs: PlanNeeds): Plan {
  checkNeeds(needs);
  const range = rangeOf(needs);
  const widthMm = Math.floor(Math.min(WIDTH_MM.most, Math.min(...needs.bedMm) - 2 * BED_MARGIN_MM));
  if (widthMm < WIDTH_MM.least) {
    throw impossible(
      `On a bed of ${needs.bedMm.join(' × ')} mm a tower is at most ${Math.max(0, widthMm)} mm wide, and its walls are too short to show ripples.`,
      `A face needs at least ${WIDTH_MM.least} mm, and ${BED_MARGIN_MM} mm of bed around it.`,
    );
  }
  const base: Shape = { widthMm, heightMm: HEIGHT_MM, range };
  const best = bestMotion(needs, base);
  return describe(needs, base, best);
}

/** Frequencies to plan for. */
interface Range {
  readonly low: Hz;
  readonly high: Hz;
  readonly from: Plan['rangeHz']['from'];
}

interface Shape {
  readonly widthMm: Mm;
  readonly heightMm: Mm;
  readonly range: Range;
}

interface Motion {
  readonly speedMmPerS: MmPerS;
  readonly accelerationMmPerS2: MmPerS2;
}

function checkNeeds({
  axes,
  maxAccelerationMmPerS2,
  maxSpeedMmPerS,
  layerHeightMm,
  nozzleMm,
  bedMm,
  ideaHz = [],
  slotMm,
}: PlanNeeds): void {
  const positive = [
    maxAccelerationMmPerS2,
    maxSpeedMmPerS,
    layerHeightMm,
    nozzleMm,
    ...bedMm,
    ...ideaHz,
    slotMm ?? 1,
  ];
  if (axes.length < 1 || axes.length > 2 || !positive.every((value) => value > 0 && value < Infinity)) {
    throw new InputError(
      'usage',
      'A plan needs one or two axes, and limits, sizes and frequencies above 0.',
      'Look at the numbers that were given.',
    );
  }
  if (layerHeightMm > nozzleMm) {
    throw new InputError(
      'usage',
      `A layer of ${layerHeightMm} mm is thicker than the nozzle of ${nozzleMm} mm is wide.`,
      'Give the layer height and the width of the nozzle in mm.',
    );
  }
  if (ideaHz.length > 1 && ideaHz.length !== axes.length) {
    throw new InputError(
      'usage',
      `There are ${ideaHz.length} ideas of the frequency for ${axes.length} axes.`,
      'Give one for all, or one for each in the order of the axes.',
    );
  }
}

function impossible(message: string, advice: string): InputError {
  return new InputError('plan-impossible', message, advice);
}

function rangeOf({ ideaHz = [], earlier = [] }: PlanNeeds): Range {
  if (earlier.length > 0) {
    const ends = earlier.map(({ naturalHz, sdHz }) => {
      const spread = Math.max(EARLIER_SPREAD * naturalHz, 3 * sdHz);
      return [naturalHz - spread, naturalHz + spread] as const;
    });
    return {
      low: Math.min(...ends.map(([low]) => low)),
      high: Math.max(...ends.map(([, high]) => high)),
      from: 'reading',
    };
  }
  if (ideaHz.length === 0) return { low: USUAL_RANGE[0], high: USUAL_RANGE[1], from: 'usual' };
  return {
    low: Math.min(...ideaHz) * (1 - IDEA_SPREAD),
    high: Math.max(...ideaHz) * (1 + IDEA_SPREAD),
    from: 'idea',
  };
}

const cornerSpeedOf = (needs: PlanNeeds): MmPerS => needs.cornerSpeedMmPerS ?? ASSUMED_CORNER_SPEED;

function bestMotion(needs: PlanNeeds, shape: Shape): Motion {
  const most = needs.maxAccelerationMmPerS2;
  const vc = cornerSpeedOf(needs);
  const speeds: MmPerS[] = [];
  for (let v = Math.min(needs.maxSpeedMmPerS, 300); v > Math.max(LEAST_SPEED, 1.5 * vc); v /= SPEED_STEP)
    speeds.push(roundSpeed(v));
  if (speeds.length === 0) {
    throw impossible(
      `At most ${needs.maxSpeedMmPerS} mm/s, with ${vc} mm/s kept through the corner, leaves nothing that would make the axis ring.`,
      'Look at both numbers; the speed kept through corners is usually below 25 mm/s.',
    );
  }
  const all = [1, 0.8, 0.6]
    .map((share) => roundAcceleration(share * most))
    .flatMap((accelerationMmPerS2) =>
      speeds.map((speedMmPerS): Motion => ({ speedMmPerS, accelerationMmPerS2 })),
    );
  const clear = all.filter((motion) => wholeSwings(needs, motion, shape.range).length === 0);
  const scored = (clear.length > 0 ? clear : all).map((motion) => ({
    motion,
    score: scoreOf(needs, shape, motion),
  }));
  const least = Math.min(...scored.map(({ score }) => score));
  const good = scored.filter(({ score }) => score <= GENTLE * least);
  const gentlest = Math.min(...good.map(({ motion }) => motion.accelerationMmPerS2));
  const best = good
    .filter(({ motion }) => motion.accelerationMmPerS2 === gentlest)
    .reduce((a, b) => (b.score < a.score ? b : a));
  if (!showsAnything(needs, shape, best.motion)) {
    throw impossible(
      `With at most ${most} mm/s² and ${needs.maxSpeedMmPerS} mm/s a corner hardly makes an axis swing that rings at ${shape.range.low.toFixed(0)} to ${shape.range.high.toFixed(0)} Hz.`,
      'Tell about where it rings (an idea of the frequency), or raise the limits if the maker allows more.',
    );
  }
  return best.motion;
}

const roundSpeed = (v: MmPerS): MmPerS => (v < 40 ? Math.floor(v) : 5 * Math.floor(v / 5));
const roundAcceleration = (a: MmPerS2): MmPerS2 => (a < 1000 ? Math.floor(a) : 100 * Math.floor(a / 100));

/** Parts of the range at which a ramp lasts whole swings. */
function wholeSwings(needs: PlanNeeds, motion: Motion, { low, high }: Range): readonly (readonly [Hz, Hz])[] {
  const ramp = rampS(needs, motion);
  return Array.from({ length: MOST_SWINGS }, (_, i) => i + 1).flatMap(
    (whole): readonly (readonly [Hz, Hz])[] => {
      const lower = Math.max(low, (whole - NEAR_WHOLE) / ramp);
      const upper = Math.min(high, (whole + NEAR_WHOLE) / ramp);
      return lower < upper ? [[lower, upper]] : [];
    },
  );
}

function rampS(needs: PlanNeeds, { speedMmPerS, accelerationMmPerS2 }: Motion): Seconds {
  return (speedMmPerS - cornerSpeedOf(needs)) / accelerationMmPerS2;
}

/** Root mean square of what is expected over the range, worse where something else speaks against it. */
function scoreOf(needs: PlanNeeds, shape: Shape, motion: Motion): number {
  const { high } = shape.range;
  const photo = photoOf(needs, shape, motion);
  const sds = sdsOver(needs, shape, motion).map((sd) => sd ?? NOT_SHOWN_HZ);
  const rms = combineSd(...sds) / Math.sqrt(sds.length);
  const spacing = motion.speedMmPerS / high;
  const short = (value: number, wanted: number) => 1 + 0.5 * Math.max(0, wanted / value - 1);
  const pitch = pitchesInside(needs, shape.range, motion).length > 0 ? 1.05 : 1;
  return (
    rms * short(photo.pxPerMm * spacing, ADVISED_PX) * short(spacing, LEAST_NOZZLES * needs.nozzleMm) * pitch
  );
}

/** What is expected over the range, undefined where nothing is shown. */
function sdsOver(needs: PlanNeeds, shape: Shape, motion: Motion): readonly (Hz | undefined)[] {
  const { low, high } = shape.range;
  const { pxPerMm } = photoOf(needs, shape, motion);
  const { settings } = settlePrint(recordOf(needs, shape, motion, needs.axes[0] ?? ''));
  return [low, middleOf(shape.range), high].flatMap((naturalHz) =>
    dampingRatiosOf(needs).map((dampingRatio) => {
      const found = predictUncertainty(settings, { naturalHz, dampingRatio }, pxPerMm);
      return found !== undefined && found.signalToNoise >= LEAST_SIGNAL ? found.combined.sd : undefined;
    }),
  );
}

function showsAnything(needs: PlanNeeds, shape: Shape, motion: Motion): boolean {
  return sdsOver(needs, shape, motion).some((sd) => sd !== undefined);
}

function dampingRatiosOf({ earlier = [] }: PlanNeeds): readonly DampingRatio[] {
  return earlier.length > 0 ? earlier.map(({ dampingRatio }) => dampingRatio) : [USUAL_DAMPING];
}

function ladderOf({ low, high, from }: Range): { readonly fromHz: Hz; readonly toHz: Hz } {
  return { fromHz: Math.floor(low / BEYOND[from]), toHz: Math.ceil(high * BEYOND[from]) };
}

function pitchesInside(
  { knownPitchesMm = [] }: PlanNeeds,
  range: Range,
  { speedMmPerS }: Motion,
): readonly { readonly pitchMm: Mm; readonly hz: Hz }[] {
  const { fromHz, toHz } = ladderOf(range);
  return knownPitchesMm
    .map((pitchMm) => ({ pitchMm, hz: speedMmPerS / pitchMm }))
    .filter(({ hz }) => hz > fromHz && hz < toHz);
}

function layersOf({ layerHeightMm }: PlanNeeds, heightMm: Mm): number {
  return Math.round(heightMm / layerHeightMm);
}

function recordOf(
  needs: PlanNeeds,
  { widthMm, heightMm, range }: Shape,
  motion: Motion,
  axis: string,
): PrintRecord {
  const {
    layerHeightMm,
    machine,
    cornerSpeedMmPerS,
    knownPitchesMm,
    turns = 'counterclockwise',
    slotMm,
  } = needs;
  const layers = layersOf(needs, heightMm);
  return checkPrintRecord({
    schema: PRINT_RECORD_SCHEMA,
    ...(machine === undefined ? {} : { machine }),
    axis,
    ...motion,
    ...(cornerSpeedMmPerS === undefined ? {} : { cornerSpeedMmPerS }),
    layerHeightMm,
    layers,
    seam: 'other-face',
    direction: 'same',
    face: {
      widthMm,
      heightMm: Number((layers * layerHeightMm).toPrecision(12)),
      leadingCorner: turns === 'counterclockwise' ? 'left' : 'right',
    },
    shaper: SHAPER,
    ladder: {
      kind: 'linear',
      ...ladderOf(range),
      firstLayer: Math.ceil(LADDER_FROM_MM / layerHeightMm),
      lastLayer: layers - 1 - Math.ceil(ABOVE_LADDER_MM / layerHeightMm),
    },
    ...(knownPitchesMm === undefined || knownPitchesMm.length === 0 ? {} : { knownPitchesMm }),
    ...(slotMm === undefined
      ? {}
      : { slots: [{ centreFromLeadingCornerMm: slotCentreMm(widthMm), widthMm: slotMm }] }),
  });
}

const slotCentreMm = (widthMm: Mm): Mm => Math.round(0.55 * widthMm);

function photoOf(
  { photoPx = PHOTO_PX, focalLength35Mm = FOCAL_LENGTH_35_MM }: PlanNeeds,
  { widthMm, range }: Shape,
  { speedMmPerS }: Motion,
): Plan['photo'] {
  // A 4:3 picture; CIPA DCG-001 as in face/camera.ts.
  const focalPx = (focalLength35Mm * photoPx * 1.25) / FILM_DIAGONAL_MM;
  const spacing = [speedMmPerS / range.low, speedMmPerS / range.high] as const;
  const wanted = clamp((focalPx * spacing[1]) / WANTED_PX, [NEAREST_MM, FARTHEST_MM]);
  const from = (roomMm: Mm) => 5 * Math.ceil(Math.max(wanted, (focalPx * roomMm) / (FILLED * photoPx)) / 5);
  const px = (distanceMm: Mm) =>
    [(focalPx / distanceMm) * spacing[0], (focalPx / distanceMm) * spacing[1]] as const;
  const [distanceMm, withCardMm] = [from(widthMm), from(widthMm + CARD_BESIDE_MM)];
  return {
    distanceMm,
    pxPerMm: focalPx / distanceMm,
    pxPerRipple: px(distanceMm),
    withCard: { distanceMm: withCardMm, pxPerRipple: px(withCardMm) },
    lampDistanceMm: LAMP_WIDTHS * widthMm,
  };
}

function minutesOf(needs: PlanNeeds, { widthMm, heightMm }: Shape, { speedMmPerS }: Motion): number {
  return (layersOf(needs, heightMm) * layerSOf(widthMm, speedMmPerS)) / 60;
}

/** Four walls of one length. */
function layerSOf(widthMm: Mm, speedMmPerS: MmPerS): Seconds {
  return (4 * widthMm) / speedMmPerS;
}

function expectedAt(needs: PlanNeeds, record: PrintRecord, naturalHz: Hz, pxPerMm: number): Expected {
  const ratios = dampingRatiosOf(needs);
  const dampingRatio = ratios.reduce((sum, one) => sum + one, 0) / ratios.length;
  const found = predictUncertainty(settlePrint(record).settings, { naturalHz, dampingRatio }, pxPerMm);
  if (found === undefined || found.signalToNoise < LEAST_SIGNAL) return { naturalHz, dampingRatio };
  const { combined, fromNull, fromSpacing } = found;
  return {
    naturalHz,
    dampingRatio,
    sdHz: combined.sd,
    fromNullSdHz: fromNull.sd,
    fromSpacingSdHz: fromSpacing.sd,
  };
}

function middleOf({ low, high }: Range): Hz {
  return Math.sqrt(low * high);
}

function optionOf(needs: PlanNeeds, shape: Shape, motion: Motion, value: number, taken: boolean): PlanOption {
  const photo = photoOf(needs, shape, motion);
  const { sdHz } = expectedAt(
    needs,
    recordOf(needs, shape, motion, needs.axes[0] ?? ''),
    middleOf(shape.range),
    photo.pxPerMm,
  );
  const ramp = rampS(needs, motion);
  return {
    value,
    taken,
    ...(sdHz === undefined ? {} : { sdHz }),
    rampSwings: [ramp * shape.range.low, ramp * shape.range.high],
    pxPerRipple: photo.pxPerRipple[1],
    minutes: minutesOf(needs, shape, motion),
  };
}

function choicesOf(needs: PlanNeeds, shape: Shape, motion: Motion): Plan['choices'] {
  const { range, heightMm } = shape;
  const middle = middleOf(range);
  const speeds = [0.65, 1, 1.5]
    .map((factor) => (factor === 1 ? motion.speedMmPerS : roundSpeed(factor * motion.speedMmPerS)))
    .filter((v) => v <= needs.maxSpeedMmPerS && v > cornerSpeedOf(needs));
  const spread = Math.sqrt(range.high / range.low) - 1;
  const spreads = [spread / 2, spread, 1.6 * spread];
  const heights = [0.6, 1, 1.4].map((factor) => (factor === 1 ? heightMm : Math.round(factor * heightMm)));
  return {
    speed: speeds.map((speedMmPerS) =>
      optionOf(needs, shape, { ...motion, speedMmPerS }, speedMmPerS, speedMmPerS === motion.speedMmPerS),
    ),
    range: spreads.map((share) =>
      optionOf(
        needs,
        { ...shape, range: { ...range, low: middle / (1 + share), high: middle * (1 + share) } },
        motion,
        share,
        share === spread,
      ),
    ),
    height: heights.map((mm) => optionOf(needs, { ...shape, heightMm: mm }, motion, mm, mm === heightMm)),
  };
}

function describe(needs: PlanNeeds, shape: Shape, motion: Motion): Plan {
  const { range, widthMm, heightMm } = shape;
  const records = needs.axes.map((axis) => recordOf(needs, shape, motion, axis));
  const [record] = records;
  if (record === undefined) throw new RangeError('Expected at least one axis but received none.');
  checkTowerShape({ widthMm, heightMm: record.face.heightMm ?? heightMm, slots: record.slots ?? [] });
  const photo = photoOf(needs, shape, motion);
  const ladder = ladderOf(range);
  const layers = layersOf(needs, heightMm);
  const ramp = rampS(needs, motion);
  const trainS = shaperImpulses({ ...SHAPER, hz: ladder.fromHz, hzMeans: 'natural' }).timesS.at(-1) ?? 0;
  const at = (hz: Hz) => expectedAt(needs, record, hz, photo.pxPerMm);
  const expected = [at(range.low), at(middleOf(range)), at(range.high)] as const;
  return {
    schema: 'stillband/plan@1',
    records,
    limits: { accelerationMmPerS2: needs.maxAccelerationMmPerS2, speedMmPerS: needs.maxSpeedMmPerS },
    rangeHz: range,
    ladder,
    ...motion,
    tower: {
      widthMm,
      heightMm: record.face.heightMm ?? heightMm,
      layers,
      layerS: layerSOf(widthMm, motion.speedMmPerS),
      minutes: minutesOf(needs, shape, motion),
    },
    ramp: { seconds: ramp, swings: [ramp * range.low, ramp * range.high] },
    maskedMm: motion.speedMmPerS * trainS,
    photo,
    expected,
    choices: choicesOf(needs, shape, motion),
    notes: notesOf(needs, shape, motion, record, photo),
  };
}

/** Frequencies at which the plan is looked at for what it does not show. */
const LOOKED_AT = 12;

function notesOf(
  needs: PlanNeeds,
  { range, widthMm }: Shape,
  motion: Motion,
  record: PrintRecord,
  photo: Plan['photo'],
): readonly PlanNote[] {
  const notes: PlanNote[] = [];
  if (needs.cornerSpeedMmPerS === undefined)
    notes.push({ code: 'corner-speed-assumed', mmPerS: cornerSpeedOf(needs) });
  for (const [fromHz, toHz] of wholeSwings(needs, motion, range))
    notes.push({ code: 'whole-swings', fromHz, toHz });
  const tried = Array.from(
    { length: LOOKED_AT + 1 },
    (_, i) => range.low * (range.high / range.low) ** (i / LOOKED_AT),
  );
  notes.push(
    ...hiddenStretches(tried, (hz) => expectedAt(needs, record, hz, photo.pxPerMm).sdHz === undefined),
  );
  notes.push(
    ...pitchesInside(needs, range, motion).map((one) => ({ code: 'pitch-inside' as const, ...one })),
  );
  if (photo.pxPerRipple[1] < ADVISED_PX) {
    notes.push({
      code: 'few-px-per-ripple',
      px: photo.pxPerRipple[1],
      aboveHz: (photo.pxPerMm * motion.speedMmPerS) / ADVISED_PX,
    });
  }
  const spacingMm = motion.speedMmPerS / range.high;
  if (spacingMm < LEAST_NOZZLES * needs.nozzleMm)
    notes.push({ code: 'fine-ripples', spacingMm, nozzleMm: needs.nozzleMm });
  const seconds = layerSOf(widthMm, motion.speedMmPerS);
  if (seconds < SHORT_LAYER_S) notes.push({ code: 'short-layers', seconds });
  return notes;
}

/** Neighbours that are not shown, each stretch by its ends. */
function hiddenStretches(tried: readonly Hz[], isHidden: (hz: Hz) => boolean): readonly PlanNote[] {
  const stretches: { code: 'not-shown'; fromHz: Hz; toHz: Hz }[] = [];
  let open = false;
  for (const hz of tried) {
    const hidden = isHidden(hz);
    const last = stretches.at(-1);
    if (hidden && open && last !== undefined) last.toHz = hz;
    else if (hidden) stretches.push({ code: 'not-shown', fromHz: hz, toHz: hz });
    open = hidden;
  }
  return stretches;
}
