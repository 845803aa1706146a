import type { Mm, Seconds } from '../core/units.js';
import type { JobFace, JobFinding, JobReading } from '../job/examineJob.js';
import type { WeavePlan } from '../job/planWeave.js';
import type { JobFile, JobFrequencies } from '../job/readJob.js';
import type { JobSide, SeamPlace, SpeedBand } from '../job/sides.js';
import { decimals, percent, withUnit } from './format.js';
import { CAUTION } from './proofWords.js';
import { ladderWords } from './recordRows.js';
import { labelled, plainText } from './textReport.js';

/** A job in words, in the order of reading. */
export interface JobSections {
  readonly verdict: string;
  readonly face: readonly string[];
  readonly layers: readonly string[];
  readonly time: readonly string[];
  readonly ladder: readonly string[];
  readonly record: readonly string[];
  readonly notes: readonly string[];
  readonly next: readonly string[];
}

/** Ladders of more steps or points are told by their ends. */
const MOST_SHOWN = 6;

/**
 * A job file in words: what it commands, what of the record it fills, and where the two disagree.
 * @param reading - From `examineJob`.
 * @returns Its sections.
 */
export function jobSections(reading: JobReading): JobSections {
  const { job, face, findings, ladder, record } = reading;
  const axis = axisOf(record);
  return {
    verdict: verdictOf(reading),
    face:
      face === undefined
        ? [
            'tell the axis (--axis X) for the face that is perpendicular to it: its speed, corners and direction',
          ]
        : faceWords(face, axis),
    layers: layerWords(job),
    time: timeWords(job.time),
    ladder: frequencyWords(job.frequencies, ladder),
    record: recordWords(record),
    notes: [
      ...findings.map(findingWords),
      ...(job.numbered ? ['The job numbers its lines.'] : []),
      ...(job.inches ? ['The job tells lengths in inches; they were converted.'] : []),
    ],
    next: [
      nextWords(findings.length > 0 || record.problem !== undefined, record.missing.length > 0),
      CAUTION,
    ],
  };
}

/**
 * The same as plain text for a terminal.
 * @param reading - From `examineJob`.
 * @returns Lines joined by newlines, with one at the end; all spaces are U+0020.
 */
export function jobReport(reading: JobReading): string {
  const { verdict, face, layers, time, ladder, record, notes, next } = jobSections(reading);
  return plainText([
    verdict,
    ...labelled('face', face),
    ...labelled('layers', layers),
    ...labelled('time', time),
    ...labelled('ladder', ladder),
    ...labelled('record', record),
    ...labelled('note', notes),
    ...labelled('next', next),
  ]);
}

/** What is to be minded with every job that lines are put into. */
export const WEAVE_CAUTIONS: readonly string[] = [
  'only its layers are held against the print record here: read the new file with the record as a job is read, which compares speed, corner and direction',
  'the lines are the template you gave; stillband writes no command of its own: look at some in the new file before you print it',
  'put the machine back to its own settings afterwards: the last line stays in force',
  'stay beside the machine while it prints',
  CAUTION,
];

/**
 * What was put into a job.
 * @param plan - The plan that was carried out.
 * @param file - Where the copy was written.
 * @returns Lines joined by newlines, with one at the end; all spaces are U+0020.
 */
export function weaveReport(plan: WeavePlan, file: string): string {
  const { lines, notes, next } = weaveSections(plan);
  return plainText([
    `${count(plan.insertions.length, 'line')} of yours put into ${file}`,
    ...labelled('lines', lines),
    ...labelled('note', notes),
    ...labelled('next', next),
  ]);
}

/**
 * What is put into a job, in words.
 * @param plan - From `planWeave`.
 * @returns Its sections.
 */
export function weaveSections(plan: WeavePlan): {
  readonly lines: readonly string[];
  readonly notes: readonly string[];
  readonly next: readonly string[];
} {
  const { insertions, layers, without, numbered, spiral, sha256 } = plan;
  const first = insertions[0];
  const last = insertions.at(-1);
  return {
    lines: [
      ...(first === undefined ? [] : [`layer ${String(first.layer)}: ${first.text}`]),
      ...(last === undefined || last === first ? [] : [`layer ${String(last.layer)}: ${last.text}`]),
      `of ${String(layers)} layers; nothing else was changed`,
      `the job it was made of has SHA-256 ${sha256}`,
    ],
    notes: [
      ...without.map(
        ({ from, to }) =>
          `The print record tells no value for ${from === to ? `layer ${String(from)}` : `layers ${String(from)} to ${String(to)}`}: ${from === 0 ? 'what the machine is set to before' : 'the line below'} stays in force there.`,
      ),
      ...(spiral
        ? ['The wall is a spiral: lines stand where the middle of its bead enters a layer, also amid a wall.']
        : []),
      ...(numbered ? ['The job numbers its lines; those put in have no numbers.'] : []),
    ],
    next: WEAVE_CAUTIONS,
  };
}

function verdictOf({ job, face, record }: JobReading): string {
  const { layers } = job;
  const tower = `${count(layers.count, 'layer')} of ${mm(layers.heightMm)}, ${mm(layers.topMm)} high`;
  if (face === undefined) return tower;
  const axis = `Axis ${axisOf(record)}`;
  const { speedMmPerS, reached } = face;
  if (speedMmPerS === 0) return `${axis}   no speed is told for the face   ${tower}`;
  const asked = speed(speedMmPerS);
  if (reached === undefined) return `${axis}   ${asked} commanded   ${tower}`;
  return reached.steadyMm === 0
    ? `${axis}   ${speed(reached.reachedMmPerS)} reached of ${asked} commanded   ${tower}`
    : `${axis}   ${asked} reached   ${tower}`;
}

function nextWords(differs: boolean, incomplete: boolean): string {
  if (differs) return 'set right what the notes name, in the record or in the job, before it is printed';
  return incomplete
    ? 'complete the record before it is printed'
    : 'print it, and measure its photo with this record';
}

function axisOf({ fields }: JobReading['record']): string {
  const { axis } = fields;
  return typeof axis === 'string' ? axis : '–';
}

/** Unit directions of the axes, in words. */
const LOOKS: Readonly<Record<number, string>> = { 0: '+X', 90: '+Y', 180: '−X', 270: '−Y' };

function faceWords(face: JobFace, axis: string): readonly string[] {
  const { side, otherFacingDeg, wallMm, reached, speedMmPerS } = face;
  const looks = (deg: number) => LOOKS[deg] ?? `${String(deg)}° from X`;
  const other =
    otherFacingDeg === undefined
      ? ''
      : `; if it is the one that looks to ${looks(otherFacingDeg)}, tell --facing ${String(otherFacingDeg)}`;
  return [
    `the side perpendicular to axis ${axis} that looks to ${looks(side.facingDeg)}${other}`,
    `the nozzle's way along it is ${mm(side.pathLengthMm)} long${side.sameLengthShare < 0.99 ? ` in ${percent(side.sameLengthShare)} of its layers` : ''}; the printed side is a line's width longer`,
    side.direction === 'alternates'
      ? 'it is printed in both directions, layer by layer'
      : `it is printed ${side.leadingCorner === 'left' ? 'from left to right' : 'from right to left'} as seen from outside: the leading corner is ${side.leadingCorner}`,
    `${side.cornerDeg === undefined ? 'no move leads to its leading corner' : `the nozzle turns by ${String(side.cornerDeg)}° into it`}; ${SEAMS[side.seam]}`,
    ...side.slots.map(
      ({ centreFromLeadingMm, pathWidthMm }) =>
        `a slot ${mm(centreFromLeadingMm)} from where the way begins, ${mm(pathWidthMm)} wide from path to path`,
    ),
    `commanded ${speedsOf(side)}`,
    ...(reached === undefined
      ? [
          speedMmPerS === 0
            ? 'whether a speed is reached cannot be told without one'
            : 'whether that is reached depends on acceleration and corner speed: tell --acceleration and --corner-speed',
        ]
      : [
          reached.steadyMm === 0
            ? `on ${mm(wallMm)} of wall it is never reached at ${withUnit(String(reached.accelerationMmPerS2), 'mm/s²')}: at most ${speed(reached.reachedMmPerS)}`
            : `it is reached, and held over ${mm(reached.steadyMm)} of ${mm(wallMm)} of wall at ${withUnit(String(reached.accelerationMmPerS2), 'mm/s²')}`,
        ]),
  ];
}

const SEAMS: Readonly<Record<SeamPlace, string>> = {
  'other-face': 'layers start elsewhere',
  'this-face': 'layers start amid this side',
  'leading-corner': 'layers start at its leading corner',
  none: 'layers have no start',
};

function speedsOf({ speeds }: JobSide): string {
  const words = ({ fromMm, toMm, speedMmPerS }: SpeedBand) =>
    `${speedMmPerS === 0 ? 'no speed' : speed(speedMmPerS)} from ${decimals(fromMm, 1)} to ${mm(toMm)} up`;
  if (speeds.length <= MOST_SHOWN) return speeds.map(words).join(', ');
  const all = speeds.map(({ speedMmPerS }) => speedMmPerS);
  return `${speed(Math.min(...all))} to ${speed(Math.max(...all))}, changing ${String(speeds.length - 1)} times over the height`;
}

function layerWords({ layers, extruder }: JobFile): readonly string[] {
  const { count: layerCount, heightMm, firstHeightMm, even, topMm, spiral } = layers;
  return [
    `${count(layerCount, 'layer')}, ${mm(heightMm)} each${firstHeightMm === heightMm ? '' : `, the first ${mm(firstHeightMm)}`}, up to ${mm(topMm)}${spiral ? '; the wall climbs as a spiral' : ''}`,
    ...(even ? [] : ['they are not all of one height']),
    ...(extruder === 'none' ? ['no E words: every feed move counts as printing'] : []),
  ];
}

function timeWords({ leastS, rampedS }: JobFile['time']): readonly string[] {
  const least = `at least ${duration(leastS)} at the speeds commanded`;
  return [
    rampedS === undefined
      ? least
      : `${least}, about ${duration(rampedS)} with the acceleration told; heating and pauses come on top`,
  ];
}

function frequencyWords(
  frequencies: JobFrequencies | undefined,
  compared: JobReading['ladder'],
): readonly string[] {
  if (frequencies === undefined) {
    return ['not looked for: tell the pattern of the line that sets the frequency (--frequency-line)'];
  }
  const { lines, otherAxis, layers, ladder } = frequencies;
  const found = `${count(lines, 'line')} found${otherAxis === 0 ? '' : `, ${String(otherAxis)} of another axis`}`;
  const first = layers[0];
  const last = layers.at(-1);
  if (ladder === undefined || first === undefined || last === undefined) return [`none: ${found}`];
  const many =
    (ladder.kind === 'stepped' && ladder.bands.length > MOST_SHOWN) ||
    (ladder.kind === 'table' && ladder.points.length > MOST_SHOWN);
  return [
    many
      ? `${ladder.kind}, ${String(first.hz)} to ${withUnit(String(last.hz), 'Hz')} over layers ${String(first.layer)} to ${String(last.layer)}`
      : ladderWords(ladder),
    ...(compared === undefined ? [] : [COMPARED[compared]]),
    found,
  ];
}

const COMPARED = {
  same: "the same as the record's ladder",
  differs: "not the record's ladder: the note says from which layer on",
} as const;

function recordWords({ filled, missing, problem }: JobReading['record']): readonly string[] {
  return [
    filled.length === 0 ? 'nothing was filled in' : `filled in from the job: ${filled.join(', ')}`,
    ...(missing.length === 0 ? [] : [`still to be told: ${missing.join(', ')}`]),
    ...(problem === undefined ? [] : [`its fields contradict each other: ${problem}`]),
  ];
}

function findingWords(finding: JobFinding): string {
  switch (finding.code) {
    case 'speed-differs':
      return `The record tells ${speed(finding.toldMmPerS)}, and the job commands ${speed(finding.jobMmPerS)} on this face.`;
    case 'speed-changes':
      return `The face is not printed at one speed: ${finding.bands
        .slice(0, 3)
        .map(
          ({ fromMm, toMm, speedMmPerS }) =>
            `${speed(speedMmPerS)} from ${decimals(fromMm, 1)} to ${mm(toMm)} up`,
        )
        .join(', ')}${finding.bands.length > 3 ? ' and so on' : ''}; layers that are slowed down do so.`;
    case 'speed-not-told':
      return 'The job tells no speed for this face.';
    case 'speed-not-reached':
      return `${speed(finding.jobMmPerS)} is never reached: ${mm(finding.wallMm)} of wall at ${withUnit(String(finding.accelerationMmPerS2), 'mm/s²')} allow ${speed(finding.reachedMmPerS)}. Command less, or make the wall longer.`;
    case 'layer-height-differs':
      return `The record tells layers of ${mm(finding.toldMm)}, and the job prints ${mm(finding.jobMm)}.`;
    case 'first-layer-differs':
      return `The record's first layer is ${mm(finding.toldMm)} high, and the job's ${mm(finding.jobMm)}.`;
    case 'layers-differ':
      return `The record tells ${count(finding.told, 'layer')}, and the job prints ${String(finding.job)}.`;
    case 'layers-uneven':
      return 'The layers are not of one height, which a print record cannot tell.';
    case 'face-width-differs':
      return `The record's face is ${mm(finding.toldMm)} wide, and the nozzle's way along it ${mm(finding.pathMm)} long.`;
    case 'face-height-differs':
      return `The record's face is ${mm(finding.toldMm)} high, and the job ends ${mm(finding.jobMm)} above its foot.`;
    case 'leading-corner-differs':
      return `The record's leading corner is ${finding.told}, and the job's ${finding.job}.`;
    case 'direction-differs':
      return `The record's direction is "${finding.told}", and the job's "${finding.job}".`;
    case 'seam-differs':
      return `The record's seam is "${finding.told}", and the job's "${finding.job}".`;
    case 'seam-on-face':
      return finding.job === 'this-face'
        ? 'Layers start amid this face, where they leave a mark: let them start on another side.'
        : 'Layers start at the leading corner, which then hardly rings: let them start elsewhere.';
    case 'corner-not-square':
      return `The nozzle turns by ${String(finding.jobDeg)}° into the face, not by 90°: a blunt corner rings less.`;
    case 'slots-differ':
      return `The record tells ${count(finding.told, 'slot')} in the face, and the job prints ${String(finding.job)}.`;
    case 'ladder-differs':
      return `In layer ${String(finding.layer)}, ${mm(finding.heightMm)} up, the job ${finding.jobHz === undefined ? 'has set no frequency yet' : `has ${withUnit(String(finding.jobHz), 'Hz')} set`}, and the record's ladder ${finding.toldHz === undefined ? 'is off' : `tells ${withUnit(decimals(finding.toldHz, 2), 'Hz')}`}${finding.toldHz === undefined || finding.jobHz === undefined ? '' : `: ${withUnit(decimals(Math.abs(finding.jobHz - finding.toldHz), 2), 'Hz')} apart`}.`;
    case 'ladder-not-found':
      return finding.lines === 0
        ? 'The pattern finds no line that sets the frequency.'
        : 'The pattern finds lines, but none for this axis.';
    case 'ladder-within-layers':
      return `${count(finding.lines, 'line')} ${finding.lines === 1 ? 'sets' : 'set'} the frequency while a layer is being printed.`;
  }
}

function count(n: number, what: string): string {
  return `${String(n)} ${what}${n === 1 ? '' : 's'}`;
}

/** Lengths of a job to a hundredth, without zeros at the end. */
function mm(value: Mm): string {
  return withUnit(String(Math.round(value * 100) / 100), 'mm');
}

function speed(value: number): string {
  return withUnit(String(Math.round(value * 10) / 10), 'mm/s');
}

function duration(seconds: Seconds): string {
  if (seconds < 90) return withUnit(decimals(seconds, 0), 's');
  const minutes = Math.round(seconds / 60);
  if (minutes < 90) return withUnit(String(minutes), 'min');
  return `${withUnit(String(Math.floor(minutes / 60)), 'h')} ${withUnit(String(minutes % 60), 'min')}`;
}
