import { InputError } from '../core/errors.js';
import type { Hz, Mm, MmPerS, MmPerS2 } from '../core/units.js';
import { reachedSpeed, type ReachedSpeed } from '../physics/straightMove.js';
import { ladderHzAt, layerCentreMm, makeLadder } from '../print/ladder.js';
import type { RawObject } from '../print/overrides.js';
import { checkPrintRecord, missingFrom, PRINT_RECORD_SCHEMA, type PrintRecord } from '../print/record.js';
import { fieldName, isObject, valueAt, type FieldPath } from '../print/recordProblem.js';
import { micrometres } from './micrometres.js';
import { readJob, type JobFile } from './readJob.js';
import type { Chunks } from './readLines.js';
import type { JobSide } from './sides.js';

/** What is asked of a job beside its record. */
export interface ExamineOptions {
  /** Where the photographed face looks to: degrees from X, counterclockwise seen from above. */
  readonly facingDeg?: number;
  /** Width of a printed line: path and printed side differ by it. */
  readonly lineWidthMm?: Mm;
  /** The user's pattern for the line that sets the shaper's frequency. */
  readonly frequencyLine?: string;
}

/** Something in which record and job differ, or that spoils the test. */
export type JobFinding =
  | { readonly code: 'speed-differs'; readonly toldMmPerS: MmPerS; readonly jobMmPerS: MmPerS }
  | { readonly code: 'speed-changes'; readonly jobMmPerS: MmPerS; readonly bands: readonly SpeedElsewhere[] }
  | { readonly code: 'speed-not-told' }
  | {
      readonly code: 'speed-not-reached';
      readonly jobMmPerS: MmPerS;
      readonly reachedMmPerS: MmPerS;
      readonly wallMm: Mm;
      readonly accelerationMmPerS2: MmPerS2;
    }
  | { readonly code: 'layer-height-differs'; readonly toldMm: Mm; readonly jobMm: Mm }
  | { readonly code: 'first-layer-differs'; readonly toldMm: Mm; readonly jobMm: Mm }
  | { readonly code: 'layers-differ'; readonly told: number; readonly job: number }
  | { readonly code: 'layers-uneven' }
  | { readonly code: 'face-width-differs'; readonly toldMm: Mm; readonly pathMm: Mm }
  | { readonly code: 'face-height-differs'; readonly toldMm: Mm; readonly jobMm: Mm }
  | { readonly code: 'leading-corner-differs'; readonly told: string; readonly job: string }
  | { readonly code: 'direction-differs'; readonly told: string; readonly job: string }
  | { readonly code: 'seam-differs'; readonly told: string; readonly job: string }
  | { readonly code: 'seam-on-face'; readonly job: 'this-face' | 'leading-corner' }
  | { readonly code: 'corner-not-square'; readonly jobDeg: number }
  | { readonly code: 'slots-differ'; readonly told: number; readonly job: number }
  | {
      readonly code: 'ladder-differs';
      readonly layer: number;
      readonly heightMm: Mm;
      readonly toldHz: Hz | undefined;
      /** In force in that layer, set there or below; undefined where nothing was set yet. */
      readonly jobHz: Hz | undefined;
    }
  | { readonly code: 'ladder-not-found'; readonly lines: number }
  | { readonly code: 'ladder-within-layers'; readonly lines: number };

/** A stretch of height that is printed at another speed than the rest. */
export interface SpeedElsewhere {
  readonly fromMm: Mm;
  readonly toMm: Mm;
  readonly speedMmPerS: MmPerS;
}

/** The photographed face as the job prints it. */
export interface JobFace {
  readonly side: JobSide;
  /** Another side across the same axis, where the angle was not told. */
  readonly otherFacingDeg?: number;
  /** Speed over most of its height; 0 where none is told. */
  readonly speedMmPerS: MmPerS;
  /** From the leading corner to the other one, or to the first slot. */
  readonly wallMm: Mm;
  /** What the machine makes of the speed on that wall, where acceleration and corner speed are told. */
  readonly reached?: ReachedSpeed & { readonly accelerationMmPerS2: MmPerS2 };
}

/** A job file examined for one axis. */
export interface JobReading {
  readonly job: JobFile;
  /** Undefined where no axis is told. */
  readonly face: JobFace | undefined;
  readonly findings: readonly JobFinding[];
  /** How the ladder that the job sets stands to the record's own; undefined where one of the two is not told. */
  readonly ladder: 'same' | 'differs' | undefined;
  /** The record with what the job told put in: what was told before stays. */
  readonly record: {
    readonly fields: RawObject;
    /** Fields that the job told. */
    readonly filled: readonly string[];
    /** Fields that must still be told. */
    readonly missing: readonly string[];
    /** Why the fields cannot stand together; undefined where they can or some are missing. */
    readonly problem?: string;
  };
}

/** Told and commanded speeds that differ by less agree: 1 %. */
const SAME_SPEED = 0.01;
/** Heights of one layer, mm. */
const SAME_LAYER_MM: Mm = 0.005;
/** A printed side is wider than the nozzle's way by a line's width: from none to this, mm (common practice, no source). */
const WIDEST_LINE_MM: Mm = 1.2;
/** With the line's width told, sizes agree to this, mm. */
const SAME_SIZE_MM: Mm = 0.3;
/** The foot of a tower is printed slowly everywhere: so many layers do not count. */
const FOOT_LAYERS = 5;
const SQUARE_DEG = 5;

/**
 * Examines a job file for one axis: fills the print record from it, and says where the two disagree.
 *
 * The face of an axis is the side perpendicular to it: of axis X the side that looks along X, whose wall runs along Y.
 * @param chunks - The job file's bytes.
 * @param told - What is told of the print, a record that may lack fields; not modified.
 * @param options - What is asked beside it.
 * @returns What the job commands, the record filled, and the findings.
 * @throws {InputError} As `readJob`; `usage` where the axis is called neither X nor Y and no angle is told, or where
 * the job has no such side.
 */
export async function examineJob(
  chunks: Chunks,
  told: RawObject,
  options: ExamineOptions = {},
): Promise<JobReading> {
  const facts = factsOf(told);
  const facings = facingsOf(facts.axis, options.facingDeg);
  const { accelerationMmPerS2, cornerSpeedMmPerS } = facts;
  const machine =
    accelerationMmPerS2 === undefined || cornerSpeedMmPerS === undefined
      ? undefined
      : { accelerationMmPerS2, cornerSpeedMmPerS };
  const job = await readJob(chunks, {
    turnedDeg: (((options.facingDeg ?? 0) % 90) + 90) % 90,
    ...(options.frequencyLine === undefined ? {} : { frequencyLine: options.frequencyLine }),
    ...(facts.axis === undefined ? {} : { axis: facts.axis }),
    ...(machine === undefined ? {} : { machine }),
  });
  const face = facings === undefined ? undefined : faceOf(job, facings, machine);
  const filled = fill(told, job, face, options.lineWidthMm);
  const compared = compareLadder(told, job);
  return {
    job,
    face,
    findings: [
      ...layerFindings(facts, job),
      ...(face === undefined ? [] : faceFindings(facts, face, options.lineWidthMm)),
      ...ladderFindings(job),
      ...(typeof compared === 'object' ? [compared] : []),
    ],
    ladder: typeof compared === 'object' ? 'differs' : compared,
    record: { ...filled, ...stateOf(filled.fields) },
  };
}

/** What a record tells of what the job commands too; fields of a wrong type count as not told, and are named later. */
interface Facts {
  readonly axis: string | undefined;
  readonly speedMmPerS: number | undefined;
  readonly accelerationMmPerS2: number | undefined;
  readonly cornerSpeedMmPerS: number | undefined;
  readonly layerHeightMm: number | undefined;
  readonly firstLayerHeightMm: number | undefined;
  readonly layers: number | undefined;
  readonly widthMm: number | undefined;
  readonly heightMm: number | undefined;
  readonly bottomMm: number;
  readonly leadingCorner: string | undefined;
  readonly direction: string | undefined;
  readonly seam: string | undefined;
  readonly slots: readonly unknown[] | undefined;
}

function factsOf(told: RawObject): Facts {
  const number = (...path: readonly string[]) => {
    const value = valueAt(path, told);
    return typeof value === 'number' && value >= 0 && value < Infinity ? value : undefined;
  };
  const word = (...path: readonly string[]) => {
    const value = valueAt(path, told);
    return typeof value === 'string' ? value : undefined;
  };
  const bands = valueAt(['accelerationLadder', 'bands'], told);
  const lowest = Array.isArray(bands)
    ? (bands as readonly unknown[]).flatMap((band) => {
        const value = isObject(band) ? band['mmPerS2'] : undefined;
        return typeof value === 'number' && value > 0 ? [value] : [];
      })
    : [];
  const acceleration = number('accelerationMmPerS2') ?? (lowest.length > 0 ? Math.min(...lowest) : 0);
  const slots = told['slots'];
  return {
    axis: word('axis'),
    speedMmPerS: number('speedMmPerS'),
    accelerationMmPerS2: acceleration > 0 ? acceleration : undefined,
    cornerSpeedMmPerS: number('cornerSpeedMmPerS'),
    layerHeightMm: number('layerHeightMm'),
    firstLayerHeightMm: number('firstLayerHeightMm'),
    layers: number('layers'),
    widthMm: number('face', 'widthMm'),
    heightMm: number('face', 'heightMm'),
    bottomMm: number('face', 'bottomMm') ?? 0,
    leadingCorner: word('face', 'leadingCorner'),
    direction: word('direction'),
    seam: word('seam'),
    slots: Array.isArray(slots) ? (slots as readonly unknown[]) : undefined,
  };
}

/** Angles of the sides that may be meant; undefined where no axis is told. */
function facingsOf(axis: string | undefined, facingDeg: number | undefined): readonly number[] | undefined {
  if (facingDeg !== undefined) return [((facingDeg % 360) + 360) % 360];
  if (axis === undefined) return undefined;
  const name = axis.trim().toUpperCase();
  if (name === 'X') return [0, 180];
  if (name === 'Y') return [270, 90];
  throw new InputError(
    'usage',
    `The axis is called "${axis}", and the job file knows only X and Y.`,
    'Tell where the photographed face looks to with --facing: degrees from X, counterclockwise seen from above, like --facing 45.',
  );
}

function faceOf(
  job: JobFile,
  facings: readonly number[],
  machine: { readonly accelerationMmPerS2: MmPerS2; readonly cornerSpeedMmPerS: MmPerS } | undefined,
): JobFace {
  const found = facings.flatMap(
    (facing) => job.sides.find(({ facingDeg }) => Math.abs(facingDeg - facing) < 1e-6) ?? [],
  );
  // Of two alike, the one that layers do not start on is the one that is photographed.
  const side = found.find(({ seam }) => seam === 'other-face') ?? found[0];
  if (side === undefined) {
    throw new InputError(
      'usage',
      `The job file prints no flat side that looks to ${facings.map((facing) => `${String(facing)}°`).join(' or ')}.`,
      'Tell where the photographed face looks to with --facing: degrees from X, counterclockwise seen from above; of a tower that stands turned by 45° it is 45, 135, 225 or 315.',
    );
  }
  const other = found.find((one) => one !== side);
  const speedMmPerS = mostSpeed(side);
  const [slot] = side.slots;
  const wallMm =
    slot === undefined ? side.pathLengthMm : micrometres(slot.centreFromLeadingMm - slot.pathWidthMm / 2);
  return {
    side,
    ...(other === undefined ? {} : { otherFacingDeg: other.facingDeg }),
    speedMmPerS,
    wallMm,
    ...(machine === undefined || speedMmPerS === 0
      ? {}
      : {
          reached: {
            ...reachedSpeed({
              lengthMm: wallMm,
              speedMmPerS,
              startMmPerS: machine.cornerSpeedMmPerS,
              endMmPerS: machine.cornerSpeedMmPerS,
              accelerationMmPerS2: machine.accelerationMmPerS2,
            }),
            accelerationMmPerS2: machine.accelerationMmPerS2,
          },
        }),
  };
}

/** The speed of most of the height. */
function mostSpeed({ speeds }: JobSide): MmPerS {
  const heights = new Map<MmPerS, Mm>();
  for (const { fromMm, toMm, speedMmPerS } of speeds) {
    heights.set(speedMmPerS, (heights.get(speedMmPerS) ?? 0) + toMm - fromMm);
  }
  const [most] = [...heights].sort((a, b) => b[1] - a[1]);
  return most === undefined ? 0 : micrometres(most[0]);
}

function layerFindings(facts: Facts, { layers }: JobFile): readonly JobFinding[] {
  const findings: JobFinding[] = [];
  const { layerHeightMm: height, layers: count } = facts;
  if (height !== undefined && Math.abs(height - layers.heightMm) > SAME_LAYER_MM) {
    findings.push({ code: 'layer-height-differs', toldMm: height, jobMm: layers.heightMm });
  }
  // Untold it is a layer like the others; where those differ already, that is told once.
  const first = facts.firstLayerHeightMm ?? (findings.length === 0 ? height : undefined);
  if (first !== undefined && Math.abs(first - layers.firstHeightMm) > SAME_LAYER_MM) {
    findings.push({ code: 'first-layer-differs', toldMm: first, jobMm: layers.firstHeightMm });
  }
  if (count !== undefined && count !== layers.count) {
    findings.push({ code: 'layers-differ', told: count, job: layers.count });
  }
  if (!layers.even) findings.push({ code: 'layers-uneven' });
  const { heightMm, bottomMm } = facts;
  if (heightMm !== undefined && Math.abs(bottomMm + heightMm - layers.topMm) > 1.5 * layers.heightMm) {
    findings.push({
      code: 'face-height-differs',
      toldMm: heightMm,
      jobMm: micrometres(layers.topMm - bottomMm),
    });
  }
  return findings;
}

function faceFindings(facts: Facts, face: JobFace, lineWidthMm: Mm | undefined): readonly JobFinding[] {
  const { side, speedMmPerS: job, wallMm, reached } = face;
  const findings: JobFinding[] = [];
  if (job === 0) findings.push({ code: 'speed-not-told' });
  else if (facts.speedMmPerS !== undefined && Math.abs(facts.speedMmPerS / job - 1) > SAME_SPEED) {
    findings.push({ code: 'speed-differs', toldMmPerS: facts.speedMmPerS, jobMmPerS: job });
  }
  const footMm = side.fromMm + FOOT_LAYERS * (facts.layerHeightMm ?? 0.2);
  const elsewhere = side.speeds.filter(
    ({ toMm, speedMmPerS }) => toMm > footMm && job > 0 && Math.abs(speedMmPerS / job - 1) > SAME_SPEED,
  );
  if (elsewhere.length > 0) {
    findings.push({ code: 'speed-changes', jobMmPerS: job, bands: elsewhere });
  }
  if (reached?.steadyMm === 0) {
    const { reachedMmPerS, accelerationMmPerS2 } = reached;
    findings.push({ code: 'speed-not-reached', jobMmPerS: job, reachedMmPerS, wallMm, accelerationMmPerS2 });
  }
  const { widthMm, leadingCorner, direction, seam, slots } = facts;
  if (widthMm !== undefined) {
    const more = widthMm - side.pathLengthMm;
    const agrees =
      lineWidthMm === undefined
        ? more > -SAME_SIZE_MM && more < WIDEST_LINE_MM
        : Math.abs(more - lineWidthMm) <= SAME_SIZE_MM;
    if (!agrees) findings.push({ code: 'face-width-differs', toldMm: widthMm, pathMm: side.pathLengthMm });
  }
  if (direction !== undefined && direction !== side.direction) {
    findings.push({ code: 'direction-differs', told: direction, job: side.direction });
  }
  if (leadingCorner !== undefined && side.direction === 'same' && leadingCorner !== side.leadingCorner) {
    findings.push({ code: 'leading-corner-differs', told: leadingCorner, job: side.leadingCorner });
  }
  if (seam !== undefined && seam !== side.seam && !(seam === 'none' && side.seam === 'other-face')) {
    findings.push({ code: 'seam-differs', told: seam, job: side.seam });
  } else if (side.seam === 'this-face' || side.seam === 'leading-corner') {
    findings.push({ code: 'seam-on-face', job: side.seam });
  }
  if (side.cornerDeg !== undefined && Math.abs(side.cornerDeg - 90) > SQUARE_DEG) {
    findings.push({ code: 'corner-not-square', jobDeg: side.cornerDeg });
  }
  if ((slots?.length ?? 0) !== side.slots.length && (slots !== undefined || side.slots.length > 0)) {
    findings.push({ code: 'slots-differ', told: slots?.length ?? 0, job: side.slots.length });
  }
  return findings;
}

function ladderFindings({ frequencies }: JobFile): readonly JobFinding[] {
  if (frequencies === undefined) return [];
  if (frequencies.ladder === undefined) {
    return [{ code: 'ladder-not-found', lines: frequencies.lines }];
  }
  return frequencies.withinLayers > 0
    ? [{ code: 'ladder-within-layers', lines: frequencies.withinLayers }]
    : [];
}

/** Where the job's ladder first differs from the told one; undefined where there are not both. */
function compareLadder(told: RawObject, job: JobFile): JobFinding | 'same' | undefined {
  const { frequencies, layers } = job;
  if (frequencies?.ladder === undefined) return undefined;
  const ladder = toldLadder(told, job);
  if (ladder === undefined) return undefined;
  // The job tells so many decimals; a record's ladder may round as well.
  const tolerance = Math.max(0.05, ...frequencies.layers.map(({ decimals }) => 10 ** -decimals));
  const set = new Map(frequencies.layers.map(({ layer, hz }) => [layer, hz]));
  let jobHz: Hz | undefined;
  for (let layer = 0; layer < layers.count; layer += 1) {
    jobHz = set.get(layer) ?? jobHz;
    const heightMm = micrometres(layerCentreMm(layer, layers.heightMm, layers.firstHeightMm));
    const toldHz = ladderHzAt(ladder, heightMm)?.value;
    // Where the ladder is off, the job need not say anything; what it set below may stay in force.
    if (toldHz === undefined && !set.has(layer)) continue;
    if (toldHz !== undefined && jobHz !== undefined && Math.abs(toldHz - jobHz) <= tolerance) continue;
    return { code: 'ladder-differs', layer, heightMm, toldHz, jobHz };
  }
  return 'same';
}

/** The told ladder, where it is one: its own mistakes are named by the record's check. */
function toldLadder(told: RawObject, { layers }: JobFile): ReturnType<typeof makeLadder> | undefined {
  if (told['ladder'] === undefined) return undefined;
  const probe = {
    schema: PRINT_RECORD_SCHEMA,
    axis: 'X',
    speedMmPerS: 100,
    layerHeightMm: layers.heightMm,
    firstLayerHeightMm: layers.firstHeightMm,
    face: { leadingCorner: 'left' },
    ladder: told['ladder'],
  };
  let record: PrintRecord;
  try {
    record = checkPrintRecord(probe);
  } catch (error) {
    if (error instanceof InputError) return undefined;
    throw error;
  }
  return makeLadder(record.ladder, layers.heightMm, layers.firstHeightMm);
}

function fill(
  told: RawObject,
  job: JobFile,
  face: JobFace | undefined,
  lineWidthMm: Mm | undefined,
): { readonly fields: RawObject; readonly filled: readonly string[] } {
  const filled: string[] = [];
  let fields: RawObject = { schema: PRINT_RECORD_SCHEMA, ...told };
  const put = (path: FieldPath, value: unknown) => {
    if (value === undefined || valueAt(path, fields) !== undefined) return;
    const [head = '', field] = path;
    const parent = fields[head];
    if (field !== undefined && parent !== undefined && !isObject(parent)) return;
    fields = {
      ...fields,
      [head]: field === undefined ? value : { ...(isObject(parent) ? parent : {}), [field]: value },
    };
    filled.push(fieldName(path));
  };
  const { layers, frequencies } = job;
  put(['layerHeightMm'], layers.even ? layers.heightMm : undefined);
  if (layers.firstHeightMm !== layers.heightMm && layers.even) {
    put(['firstLayerHeightMm'], layers.firstHeightMm);
  }
  put(['layers'], layers.even ? layers.count : undefined);
  put(['ladder'], frequencies?.ladder);
  if (face === undefined) return { fields, filled };
  const { side, speedMmPerS } = face;
  put(['speedMmPerS'], speedMmPerS === 0 ? undefined : speedMmPerS);
  put(['face', 'leadingCorner'], side.leadingCorner);
  put(['direction'], side.direction);
  put(['seam'], layers.spiral ? 'none' : side.seam);
  if (lineWidthMm !== undefined) {
    put(['face', 'widthMm'], micrometres(side.pathLengthMm + lineWidthMm));
    const slots = side.slots.map(({ centreFromLeadingMm, pathWidthMm }) => ({
      centreFromLeadingCornerMm: micrometres(centreFromLeadingMm + lineWidthMm / 2),
      widthMm: micrometres(pathWidthMm - lineWidthMm),
    }));
    put(['slots'], slots.length === 0 ? undefined : slots);
  }
  return { fields, filled };
}

function stateOf(fields: RawObject): { readonly missing: readonly string[]; readonly problem?: string } {
  const missing = missingFrom(fields).map(fieldName);
  if (missing.length > 0) return { missing };
  try {
    checkPrintRecord(fields);
    return { missing };
  } catch (error) {
    if (error instanceof InputError) return { missing, problem: error.message };
    throw error;
  }
}
