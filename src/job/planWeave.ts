import { InputError } from '../core/errors.js';
import { Sha256 } from '../core/sha256.js';
import type { Hz, Mm, MmPerS2 } from '../core/units.js';
import { ladderHzAt, layerCentreMm, makeLadder, type Ladder } from '../print/ladder.js';
import type { PrintRecord } from '../print/record.js';
import { micrometres } from './micrometres.js';
import { PrintedMoves } from './printedMoves.js';
import { layerOfBead, noLayers } from './readJob.js';
import { readLines, type Chunks, type Motion } from './readLines.js';
import {
  checkHarmless,
  fillTemplate,
  madeBy,
  parseTemplate,
  type Placeholder,
  type TemplateValues,
} from './template.js';

/** From and to which value the user allows. */
export interface Limit {
  readonly low: number;
  readonly high: number;
}

/** What is to be put into a job. */
export interface WeaveRequest {
  readonly record: PrintRecord;
  /** The user's own line with placeholders. */
  readonly template: string;
  /** Needed where the template has {hz}. */
  readonly limitHz?: Limit;
  /** Needed where the template has {acceleration}. */
  readonly limitAcceleration?: Limit;
  /** A line in each layer, or only where its frequency or acceleration is another one than below. @default layer */
  readonly every?: 'layer' | 'band';
}

/** One line that is put in. */
export interface Insertion {
  /** Where, bytes from the start of the job file: in front of the line that begins there. */
  readonly offset: number;
  readonly layer: number;
  /** The line without its end. */
  readonly text: string;
  readonly hz: Hz | undefined;
  readonly accelerationMmPerS2: MmPerS2 | undefined;
}

/** Neighbouring layers. */
export interface LayerRange {
  readonly from: number;
  readonly to: number;
}

/** What is put where. */
export interface WeavePlan {
  /** In the order of the file. */
  readonly insertions: readonly Insertion[];
  /** Layers of the job. */
  readonly layers: number;
  /** Layers for which the record tells no value, so that what was set before stays in force there. */
  readonly without: readonly LayerRange[];
  /** The job numbers its lines, which those put in do not have. */
  readonly numbered: boolean;
  readonly spiral: boolean;
  /** How the job's first line ends. */
  readonly lineEnd: '\n' | '\r\n';
  /** Length of the job file. */
  readonly bytes: number;
  /** SHA-256 of the job file, lower-case hexadecimal. */
  readonly sha256: string;
}

/** A layer's nozzle height may differ by this share of a layer from the record's: rounding of the job's words. */
const HEIGHT_SHARE = 0.15;
/** Lines that clean the nozzle may be printed before the tower, in so many layers. */
const MOST_BEFORE_TOWER = 2;

/**
 * Finds where the user's lines belong in a job, and fills them in. Each stands in front of the line that brings the nozzle
 * to the height of its layer; in a spiral, in front of the first move whose bead has its middle in that layer.
 * @param chunks - The job file's bytes.
 * @param request - Record, template and limits.
 * @returns The plan, for `weave`.
 * @throws {InputError} As `readLines` and `PrintedMoves`; `template-invalid`, `limit-missing`, `limit-exceeded`,
 * `job-differs` when the layers are not the record's, `job-woven`, `job-no-layers`.
 */
export async function planWeave(chunks: Chunks, request: WeaveRequest): Promise<WeavePlan> {
  const { record } = request;
  const template = parseTemplate(request.template);
  const uses = new Set(template.names);
  const limits = checkLimits(uses, request);
  if (uses.has('hz') && record.ladder.kind === 'off') {
    throw nothingFor('{hz}', "the print record's ladder is off");
  }
  if (uses.has('damping') && record.shaper?.dampingRatio === undefined) {
    throw nothingFor('{damping}', 'the print record has no shaper.dampingRatio');
  }
  const told = record.accelerationLadder?.bands ?? record.accelerationMmPerS2;
  if (uses.has('acceleration') && told === undefined) {
    throw nothingFor('{acceleration}', 'the print record tells no acceleration');
  }
  const { layerHeightMm, firstLayerHeightMm = layerHeightMm } = record;
  const grid = { layerHeightMm, firstLayerHeightMm };
  const ladder = makeLadder(record.ladder, layerHeightMm, firstLayerHeightMm);
  const values = (layer: number) => valuesOf(record, ladder, layer, uses);
  const sample = fillTemplate(template, {
    axis: record.axis,
    hz: 33,
    damping: 0.1,
    layer: 7,
    height_mm: 5,
    acceleration: 777,
  });
  await checkHarmless(sample);

  const starts = new LayerStarts(grid);
  const moves = new PrintedMoves((motion, prints) => {
    starts.move(motion, prints);
  });
  const isOurs = madeBy(template, record.axis);
  const decoder = new TextDecoder();
  const hash = new Sha256();
  const first = new FirstLine();
  const read = await readLines(passing(chunks, hash, first), {
    onMove: (motion) => {
      moves.move(motion);
    },
    onExtruderSet: (position) => {
      moves.set(position);
    },
    onOther: (bytes, line) => {
      if (!isOurs(decoder.decode(bytes))) return;
      moves.inOrder(() => {
        starts.found(line);
      });
    },
  });
  moves.end();
  const { places, spiral } = starts.end(record.layers, read.tellsHeight);

  const insertions: Insertion[] = [];
  const without: { from: number; to: number }[] = [];
  for (const { layer, offset } of places) {
    const filled = values(layer);
    if (filled === undefined) {
      const last = without.at(-1);
      if (last?.to === layer - 1) last.to = layer;
      else without.push({ from: layer, to: layer });
      continue;
    }
    const { hz, acceleration: accelerationMmPerS2 } = filled;
    const before = insertions.at(-1);
    const same = before?.hz === hz && before?.accelerationMmPerS2 === accelerationMmPerS2;
    if (request.every === 'band' && before !== undefined && same) continue;
    checkLimit('{hz}', 'Hz', hz, limits.hz, layer);
    checkLimit('{acceleration}', 'mm/s²', accelerationMmPerS2, limits.acceleration, layer);
    insertions.push({ offset, layer, text: fillTemplate(template, filled), hz, accelerationMmPerS2 });
  }
  if (insertions.length === 0) {
    throw nothingFor(
      template.names.map((name) => `{${name}}`).join(' and '),
      'the print record tells no value for any layer of the job',
    );
  }
  return {
    insertions,
    layers: places.length,
    without,
    numbered: read.numbered,
    spiral,
    lineEnd: first.lineEnd,
    bytes: read.bytes,
    sha256: hash.hex(),
  };
}

interface LayerPlace {
  readonly layer: number;
  readonly offset: number;
  readonly line: number;
}

/** Finds the places where the record's layers begin in the job. */
class LayerStarts {
  readonly #height: Mm;
  readonly #first: Mm;
  #places: LayerPlace[] = [];
  /** The line that last changed the height without printing, since the last printing move. */
  #lift: { readonly line: number; readonly offset: number } | undefined;
  #layer = -1;
  #climbing = 0;
  #printing = 0;
  #differs: InputError | undefined;
  /** A line of the template's form that stands where one would be put, or among printing moves. */
  #woven: number | undefined;
  #lastFound = -1;

  constructor({
    layerHeightMm,
    firstLayerHeightMm,
  }: {
    readonly layerHeightMm: Mm;
    readonly firstLayerHeightMm: Mm;
  }) {
    this.#height = layerHeightMm;
    this.#first = firstLayerHeightMm;
  }

  found(line: number): void {
    this.#lastFound = line;
    if (this.#layer >= 0) this.#woven ??= line;
  }

  move(motion: Readonly<Motion>, prints: boolean): void {
    const { fromZMm, toZMm, line, offset } = motion;
    if (!prints) {
      if (toZMm !== fromZMm) this.#lift = { line, offset };
      return;
    }
    const climbs = toZMm > fromZMm;
    this.#printing += 1;
    this.#climbing += climbs ? 1 : 0;
    const nozzleMm = (fromZMm + toZMm) / 2;
    const layer = layerOfBead(nozzleMm, this.#height, this.#first);
    const topMm = this.#first + layer * this.#height;
    // A spiral passes through all heights; what lies level must lie where the record says.
    const fits = climbs || Math.abs(nozzleMm - topMm) <= HEIGHT_SHARE * this.#height;
    const begun = this.#layer > 0 || this.#differs !== undefined;
    if (layer === 0 && fits && begun && this.#places.length <= MOST_BEFORE_TOWER) {
      // What was printed so far was no part of the tower.
      this.#places = [];
      this.#layer = -1;
      this.#differs = undefined;
      this.#woven = undefined;
    }
    if (layer !== this.#layer) this.#begin(layer, line, offset);
    if (!fits) {
      this.#differs ??= differs(
        `prints at ${String(micrometres(nozzleMm))} mm in line ${String(line)}, where the print record has layers at ${String(micrometres(topMm - this.#height))} and ${String(micrometres(topMm))} mm`,
      );
    }
    this.#lift = undefined;
  }

  end(
    layers: number | undefined,
    tellsHeight: boolean,
  ): { readonly places: readonly LayerPlace[]; readonly spiral: boolean } {
    if (this.#printing === 0 || !tellsHeight) throw noLayers(this.#printing > 0);
    if (this.#differs !== undefined) throw this.#differs;
    if (layers !== undefined && this.#places.length !== layers) {
      throw differs(
        `prints ${String(this.#places.length)} layers, and the print record tells ${String(layers)}`,
      );
    }
    if (this.#woven !== undefined) {
      throw new InputError(
        'job-woven',
        `Line ${String(this.#woven)} of the job file is one that this template makes: lines were put in before.`,
        'Give the job as it was before, or another template.',
      );
    }
    return { places: this.#places, spiral: this.#climbing > this.#printing / 2 };
  }

  #begin(layer: number, line: number, offset: number): void {
    if (layer !== this.#layer + 1) {
      this.#differs ??= differs(
        this.#layer < 0
          ? `begins ${String(layer)} layers higher than the print record's first one (line ${String(line)})`
          : `goes from layer ${String(this.#layer)} to layer ${String(layer)} in line ${String(line)}, counted from 0 with the print record's layer height`,
      );
    }
    const at = this.#lift ?? { line, offset };
    if (this.#lastFound === at.line - 1) this.#woven ??= this.#lastFound;
    this.#layer = layer;
    // Once the layers differ nothing is woven; a file of a million heights need not be kept.
    if (this.#differs === undefined) this.#places.push({ layer, line: at.line, offset: at.offset });
  }
}

/** How the file's first line ends. */
class FirstLine {
  lineEnd: '\n' | '\r\n' = '\n';
  #last = 0;
  #done = false;

  look(chunk: Uint8Array): void {
    if (this.#done || chunk.length === 0) return;
    const end = chunk.indexOf(10);
    this.#done = end >= 0;
    if (this.#done) this.lineEnd = (end > 0 ? chunk[end - 1] : this.#last) === 13 ? '\r\n' : '\n';
    this.#last = chunk.at(-1) ?? 0;
  }
}

async function* passing(chunks: Chunks, hash: Sha256, first: FirstLine): AsyncGenerator<Uint8Array> {
  for await (const chunk of chunks) {
    hash.add(chunk);
    first.look(chunk);
    yield chunk;
  }
}

interface Filled extends TemplateValues {
  readonly hz?: number;
  readonly acceleration?: number;
}

/** What the record tells of a layer; undefined where a value that the template needs is not told. */
function valuesOf(
  record: PrintRecord,
  ladder: Ladder,
  layer: number,
  uses: ReadonlySet<Placeholder>,
): Filled | undefined {
  const { layerHeightMm, firstLayerHeightMm = layerHeightMm, axis, accelerationLadder } = record;
  const heightMm = micrometres(layerCentreMm(layer, layerHeightMm, firstLayerHeightMm));
  const hz = uses.has('hz') ? ladderHzAt(ladder, heightMm)?.value : undefined;
  const acceleration =
    accelerationLadder === undefined
      ? record.accelerationMmPerS2
      : accelerationLadder.bands.find(({ fromMm, toMm }) => heightMm >= fromMm && heightMm < toMm)?.mmPerS2;
  const damping = record.shaper?.dampingRatio;
  if ((uses.has('hz') && hz === undefined) || (uses.has('acceleration') && acceleration === undefined)) {
    return undefined;
  }
  return {
    axis,
    layer,
    height_mm: heightMm,
    ...(hz === undefined ? {} : { hz }),
    ...(uses.has('acceleration') && acceleration !== undefined ? { acceleration } : {}),
    ...(damping === undefined ? {} : { damping }),
  };
}

function checkLimits(
  uses: ReadonlySet<Placeholder>,
  { limitHz: hz, limitAcceleration: acceleration }: WeaveRequest,
): { readonly hz: Limit | undefined; readonly acceleration: Limit | undefined } {
  const missing = [
    ...(uses.has('hz') && hz === undefined ? (['--limit-hz 10-150'] as const) : []),
    ...(uses.has('acceleration') && acceleration === undefined
      ? (['--limit-acceleration 500-8000'] as const)
      : []),
  ];
  if (missing.length > 0) {
    throw new InputError(
      'limit-missing',
      'The values that are to be put in have no limits of yours.',
      `Tell what your machine and its maker allow, like ${missing.join(' ')}.`,
      uses.has('hz') && hz === undefined ? 'limitHz' : 'limitAcceleration',
    );
  }
  return { hz, acceleration };
}

function checkLimit(
  name: string,
  unit: string,
  value: number | undefined,
  limit: Limit | undefined,
  layer: number,
): void {
  if (value === undefined || limit === undefined) return;
  if (value >= limit.low && value <= limit.high) return;
  throw new InputError(
    'limit-exceeded',
    `Layer ${String(layer)} would get ${name} ${String(micrometres(value))} ${unit}, outside your limits of ${String(limit.low)} to ${String(limit.high)} ${unit}.`,
    'Keep to what your machine and its maker allow: change the print record, or the limit if it was mistyped.',
    name === '{hz}' ? 'limitHz' : 'limitAcceleration',
  );
}

function nothingFor(name: string, why: string): InputError {
  return new InputError(
    'template-invalid',
    `The template has ${name}, but ${why}.`,
    'Complete the print record, or take the placeholder out.',
  );
}

function differs(what: string): InputError {
  return new InputError(
    'job-differs',
    `The job file ${what}.`,
    'Give the record of this job; "stillband job" tells its layers.',
  );
}
