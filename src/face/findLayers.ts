import { combineSd, type Estimate } from '../core/estimate.js';
import type { Mm, Px } from '../core/units.js';
import { nextPowerOfTwo, realSpectrum } from '../signal/fft.js';
import { median } from '../signal/median.js';
import { interpolatePeak } from '../signal/peak.js';
import { hann } from '../signal/windows.js';
import { followLayers, heightOf, type FollowedLayers } from './followLayers.js';
import { layerStripes, type LayerStripes } from './layerStripes.js';
import type { Face } from './rectifyFace.js';

/** Layer lines of a face: its built-in ruler. Lengths are mm of the face as it was flattened. */
export interface LayerLines {
  /** Mean distance between layers over the height, in the middle of the width; the edges taken as they are. */
  readonly pitchMm: Estimate;
  /**
   * Height of the lowest boundary between two layers above the lower edge, 0 up to the pitch, in the middle of the
   * width. A boundary is where the lines are darkest; the light decides whether that is the groove itself.
   */
  readonly boundaryMm: Estimate;
  /** Layers between the lower edge and the upper one, in the middle of the width; not a whole number. */
  readonly count: Estimate;
  /** Amplitude of the lines ÷ brightness. */
  readonly contrast: number;
  readonly pxPerLayer: Px;
  /** How the lines run over the face. */
  readonly lines: FollowedLayers;
}

/** Layers that printers make (common practice, no source: 0.05 to 0.6 mm). */
const PITCH_MM = { least: 0.04, most: 0.7 } as const;
/** A line needs two px; a little more, so that it is told from its alias. */
const LEAST_PX = 2.1;
/** Fewer layers tell no pitch. */
const LEAST_LAYERS = 25;
/** The pitch found is the one told when they differ by less: twice what contradicts a size (DESIGN 3). */
const AS_TOLD = 0.03;
/**
 * How far a line stands out of the spectrum around it, in power: the told pitch, and one that is not told. Drawn faces
 * without layer lines stay below 6 and 12 (test/face/findLayers.test.ts), photographs with them lie above 1000.
 */
const STANDS_OUT = { told: 25, untold: 60 } as const;
/** An untold pitch must beat every other line by so much in power. */
const CLEAR = 8;
/** An untold pitch of fewer px may be the alias of a finer one: the alias of p px has p/(p − 1), and below 1.5 px
 * little passes the pixels themselves. */
const LEAST_UNTOLD_PX = 2.5;
/** Lines that are so much less coherent over the face are none: uneven layers alone reach 0.6. */
const LEAST_COHERENCE = 0.975;
/** Corners that are off and lenses bend lines by less than this share of the longer side; aliases run across. */
const MOST_BEND = 0.01;
/** The surroundings of a line in the spectrum: this share of its frequency to both sides, less what is its own. */
const AROUND = { far: 0.25, own: 0.03 } as const;
/**
 * Lines are darkest in the groove where light falls straight, a quarter of a layer above or below where it falls from
 * above or below (a bead's slope goes before its height): standard uncertainty, share of a layer.
 */
const BOUNDARY_SD = 0.25;
/**
 * Near a lamp the light falls otherwise at the top than at the bottom, and so the darkest places move against each
 * other: standard uncertainty of a count, layers. Of the six photographs of testimages with their true corners the
 * worst is 0.17 off.
 */
const LIGHT_SD = 0.1;

/**
 * Finds the layer lines of a flattened face and follows them over it.
 * @param face - Image and scale; the edges of the image are the edges of the face.
 * @param layerHeightMm - Layer height told, mm: a hint, which decides between lines that are not clear by themselves.
 * @returns The lines; undefined where they are not resolved, or where it is not sure which lines are layers. The pitch
 * may differ from the one told.
 */
export function findLayers(
  face: Pick<Face, 'image' | 'imagePxPerMm'>,
  layerHeightMm: Mm,
): LayerLines | undefined {
  const pxPerMm = face.imagePxPerMm.alongHeight;
  const [rows = 0, columns = 0] = face.image.shape;
  // What is told as too fine to be seen may be seen as its alias: then nothing is believed.
  if (layerHeightMm * pxPerMm < LEAST_PX || rows < LEAST_LAYERS * LEAST_PX) return undefined;
  const stripes = layerStripes(face.image, face.imagePxPerMm);
  const layersPerRow = candidate(stripes, pxPerMm, layerHeightMm);
  const lines = layersPerRow === undefined ? undefined : followLayers(stripes, layersPerRow);
  if (lines === undefined || !isSound(lines, rows, Math.max(rows, columns))) return undefined;
  const { value } = lines.count;
  const count = { value, sd: combineSd(lines.count.sd, LIGHT_SD) };
  const pitch = rows / pxPerMm / value;
  const bottom = lines.layersPerRow * rows + heightOf(lines.surface, 0, 1);
  // Dark at half a turn.
  const above = bottom - 0.5 - Math.floor(bottom - 0.5);
  return {
    pitchMm: { value: pitch, sd: (pitch * count.sd) / value },
    boundaryMm: { value: above * pitch, sd: pitch * combineSd(BOUNDARY_SD, lines.bottomSd) },
    count,
    contrast: lines.contrast,
    pxPerLayer: pitch * pxPerMm,
    lines,
  };
}

/** A line of the spectrum. */
interface Line {
  readonly layersPerRow: number;
  /** Power ÷ median power around it. */
  readonly standsOut: number;
}

/** Which line is the layers', in layers for each row; undefined when that is not sure. */
function candidate({ rows, values }: LayerStripes, pxPerMm: number, toldMm: Mm): number | undefined {
  const power = sharedPower(values, rows);
  const size = 2 * (power.length - 1);
  const lowest = Math.max(LEAST_LAYERS / rows, 1 / (PITCH_MM.most * pxPerMm));
  const highest = Math.min(1 / LEAST_PX, 1 / (PITCH_MM.least * pxPerMm));
  // A Hann window's line is two resolved bins wide to each side.
  const apart = Math.ceil((2 * size) / rows);
  const lines = linesOf(power, Math.ceil(lowest * size), Math.floor(highest * size), apart);
  const [strongest] = lines;
  if (strongest === undefined) return undefined;
  const told = 1 / (toldMm * pxPerMm);
  const near = (layersPerRow: number) =>
    lines.find((line) => Math.abs(line.layersPerRow / layersPerRow - 1) < AS_TOLD);
  const asTold = near(told);
  if (asTold === strongest) return strongest.standsOut > STANDS_OUT.told ? strongest.layersPerRow : undefined;
  // Another line is stronger than the told one's: it must be clear by itself, and no overtone of one below it.
  if (asTold !== undefined && asTold.standsOut > STANDS_OUT.told) return undefined;
  const rivals = lines.filter((line) => line !== strongest && !isMultiple(line, strongest));
  const rival = Math.max(0, ...rivals.map((line) => line.standsOut));
  const below = [2, 3].map((order) => near(strongest.layersPerRow / order)?.standsOut ?? 0);
  const isClear =
    strongest.standsOut > Math.max(STANDS_OUT.untold, CLEAR * rival) &&
    Math.max(...below) < STANDS_OUT.told &&
    strongest.layersPerRow < 1 / LEAST_UNTOLD_PX;
  return isClear ? strongest.layersPerRow : undefined;
}

function isMultiple(line: Line, base: Line): boolean {
  const ratio = line.layersPerRow / base.layersPerRow;
  return ratio > 1.5 && Math.abs(ratio / Math.round(ratio) - 1) < AS_TOLD;
}

/**
 * Power that neighbouring stripes share: layers run on, noise does not. Of the sum of products of their spectra the
 * size counts, so that lines off level lose nothing.
 */
function sharedPower(values: LayerStripes['values'], rows: number): Float64Array {
  // Longer than the record, so that a line lies near a bin; how it runs is found by its phase.
  const size = nextPowerOfTwo(1.25 * rows);
  const window = hann(rows);
  const bins = size / 2 + 1;
  const re = new Float64Array(bins);
  const im = new Float64Array(bins);
  let last: ReturnType<typeof realSpectrum> | undefined;
  const padded = new Float64Array(size);
  for (const stripe of values) {
    for (let row = 0; row < rows; row += 1) padded[row] = (stripe[row] ?? 0) * (window[row] ?? 0);
    const here = realSpectrum(padded);
    if (last !== undefined) {
      for (let bin = 0; bin < bins; bin += 1) {
        const [a, b, c, d] = [here.re[bin] ?? 0, here.im[bin] ?? 0, last.re[bin] ?? 0, last.im[bin] ?? 0];
        re[bin] = (re[bin] ?? 0) + a * c + b * d;
        im[bin] = (im[bin] ?? 0) + b * c - a * d;
      }
    }
    last = here;
  }
  return re.map((value, bin) => Math.hypot(value, im[bin] ?? 0));
}

/** Highest bins of their surroundings, the one that stands out most first. */
function linesOf(power: Float64Array, first: number, last: number, apart: number): readonly Line[] {
  const lines: Line[] = [];
  const size = 2 * (power.length - 1);
  for (let bin = first; bin <= last; bin += 1) {
    const here = power[bin] ?? 0;
    const neighbours = power.subarray(Math.max(0, bin - apart), bin + apart + 1);
    if (neighbours.some((value) => value > here)) continue;
    const own = Math.max(3 * apart, Math.ceil(AROUND.own * bin));
    const far = Math.max(own + 8 * apart, Math.ceil(AROUND.far * bin));
    const around = [
      ...power.subarray(Math.max(1, bin - far), Math.max(1, bin - own)),
      ...power.subarray(bin + own + 1, bin + far + 1),
    ];
    if (around.length === 0) continue;
    const floor = median(around);
    lines.push({
      layersPerRow: (bin + interpolatePeak(power, bin)) / size,
      standsOut: floor > 0 ? here / floor : 0,
    });
  }
  return lines.sort((a, b) => b.standsOut - a.standsOut);
}

/** Lines that run through the whole face, all but level. */
function isSound(lines: FollowedLayers, rows: number, longerSide: number): boolean {
  const { coherence, surface, layersPerRow } = lines;
  if (!(Math.min(coherence.alongHeight, coherence.across) > LEAST_COHERENCE)) return false;
  if (!(lines.count.value > LEAST_LAYERS)) return false;
  // Off level, and off even spacing, px: all of the surface but its mean and its slope down the middle.
  const [middle, slope] = [heightOf(surface, 0, 0), (heightOf(surface, 0, 1) - heightOf(surface, 0, -1)) / 2];
  const places = [-1, -0.5, 0, 0.5, 1];
  const bend = Math.max(
    ...places.flatMap((u) =>
      places.map((v) => Math.abs(heightOf(surface, u, v) - middle - slope * v) / layersPerRow),
    ),
  );
  return bend < MOST_BEND * longerSide && Math.abs(slope) < (AS_TOLD / 2) * rows * layersPerRow;
}
