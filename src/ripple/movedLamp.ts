import type { Mm } from '../core/units.js';
import type { Profiles } from '../profiles/makeProfiles.js';
import { solveSymmetric } from '../signal/leastSquares.js';
import type { BandAmplitude } from './jointFit.js';

/** One photo of a face that did not move, nor did the camera. */
export interface LitPhoto {
  readonly profiles: Profiles;
  /** One for each band of the profiles, at one frequency and damping ratio for all photos. */
  readonly amplitudes: readonly (BandAmplitude | undefined)[];
}

/** Profiles of several photos as one. */
export interface LitTogether {
  readonly profiles: Profiles;
  /** How strongly each photo shows the ripples, as a share of the first; negative: bright where that is dark. */
  readonly gains: readonly number[];
  /** What each photo counts for in the sum. */
  readonly shares: readonly number[];
}

/** Where to look for what photos have in common beside the ripples. */
export interface FarFrom {
  /** From here on the ripples have mostly died out, mm from the leading corner. */
  readonly fromMm: Mm;
  /** Slower changes than this do not count, mm. */
  readonly windowMm: Mm;
}

/** Fewer places tell no scatter. */
const LEAST_PLACES = 200;
/** A photo's own noise is never taken for less than this share of what all photos have in common. */
const LEAST_OWN = 0.01;

/**
 * Puts photos of one face, between which only the lamp was moved, together into one set of profiles. A lamp on the
 * other side shows the slope the other way round, while stains and what is printed on stay as they are. With y_p = g_p r +
 * s + n_p at every place, r of the ripples, s common to all photos and n_p a photo's own noise, the best estimate of r is
 * cᵀy with c = C⁻¹g/(gᵀC⁻¹g), C = σ_s² 11ᵀ + diag(σ_p²): generalised least squares (Aitken, Proc. Royal Soc. Edinburgh
 * 55, 1935; from memory). σ_s² and σ_p² are taken from the photos' own scatter, where the ripples have died out.
 * @param photos - Two or more, flattened by the same corners.
 * @param far - Where ripples have died out.
 * @returns Profiles in which ripples are as strong as in the first photo; undefined where the photos have no heights in
 * common, or too little of the wall is left to tell their noise.
 */
export function lampsTogether(photos: readonly LitPhoto[], far: FarFrom): LitTogether | undefined {
  const [first] = photos;
  if (first === undefined || photos.length < 2) return undefined;
  const rows = commonRows(photos);
  const usable = first.profiles.usable.map((_, i) =>
    photos.every(({ profiles }) => profiles.usable[i] === 1) ? 1 : 0,
  );
  const gains = photos.map((photo, p) => (p === 0 ? 1 : gainAgainst(first, photo, rows, p)));
  const covariance = scatter(photos, rows, usable, far);
  if (rows.length === 0 || covariance === undefined) return undefined;
  const weights = solveSymmetric(covariance, Float64Array.from(gains));
  if (weights === undefined) return undefined;
  const total = weights.reduce((sum, weight, p) => sum + weight * (gains[p] ?? 0), 0);
  if (!(total > 0)) return undefined;
  const shares = Array.from(weights, (weight) => weight / total);
  const bands = rows.flatMap((row) => {
    const [at = 0] = row;
    const band = first.profiles.bands[at];
    if (band === undefined) return [];
    const values = new Float64Array(band.values.length);
    row.forEach((index, p) => {
      const own = photos[p]?.profiles.bands[index]?.values ?? values;
      const share = shares[p] ?? 0;
      for (let i = 0; i < values.length; i += 1) values[i] = (values[i] ?? 0) + share * (own[i] ?? 0);
    });
    return [{ ...band, values }];
  });
  return { profiles: { ...first.profiles, usable, bands }, gains, shares };
}

/** The heights that all photos have: for each, its band in every photo. */
function commonRows(photos: readonly LitPhoto[]): readonly (readonly number[])[] {
  const [first, ...others] = photos;
  return (first?.profiles.bands ?? []).flatMap(({ heightMm }, k) => {
    const found = others.map(({ profiles }) =>
      profiles.bands.findIndex((band) => Math.abs(band.heightMm - heightMm) < SAME_HEIGHT_MM),
    );
    return found.includes(-1) ? [] : [[k, ...found]];
  });
}

/** Bands of one face at one height differ by rounding only, and by half a millimetre where rows were left out. */
const SAME_HEIGHT_MM: Mm = 0.25;

/** The real factor that makes the first photo's amplitudes into this one's, by least squares. */
function gainAgainst(
  first: LitPhoto,
  photo: LitPhoto,
  rows: readonly (readonly number[])[],
  p: number,
): number {
  let product = 0;
  let square = 0;
  for (const row of rows) {
    const a = first.amplitudes[row[0] ?? -1];
    const b = photo.amplitudes[row[p] ?? -1];
    if (a === undefined || b === undefined) continue;
    const weight = 1 / (a.sd * a.sd);
    product += weight * (a.amplitude.re * b.amplitude.re + a.amplitude.im * b.amplitude.im);
    square += weight * (a.amplitude.re ** 2 + a.amplitude.im ** 2);
  }
  return square > 0 ? product / square : 0;
}

/** σ_s² 11ᵀ + diag(σ_p²) of what changes faster than the window, row-major. */
function scatter(
  photos: readonly LitPhoto[],
  rows: readonly (readonly number[])[],
  usable: Uint8Array,
  far: FarFrom,
): Float64Array | undefined {
  const count = photos.length;
  const sums = new Float64Array(count * count);
  let places = 0;
  for (const row of rows) {
    const left = row.map((index, p) => quickPart(photos[p]?.profiles, index, far.windowMm));
    const positions = photos[0]?.profiles.positionsMm ?? new Float64Array();
    positions.forEach((x, i) => {
      if (x < far.fromMm || usable[i] !== 1) return;
      places += 1;
      for (let a = 0; a < count; a += 1) {
        for (let b = 0; b <= a; b += 1) {
          const at = a * count + b;
          sums[at] = (sums[at] ?? 0) + (left[a]?.[i] ?? 0) * (left[b]?.[i] ?? 0);
        }
      }
    });
  }
  if (places < LEAST_PLACES) return undefined;
  let common = 0;
  for (let a = 0; a < count; a += 1) for (let b = 0; b < a; b += 1) common += sums[a * count + b] ?? 0;
  const shared = Math.max(0, common / places / ((count * (count - 1)) / 2));
  return Float64Array.from({ length: count * count }, (_, at) => {
    const [a, b] = [Math.floor(at / count), at % count];
    if (a !== b) return shared;
    return shared + Math.max((sums[at] ?? 0) / places - shared, LEAST_OWN * shared, Number.EPSILON);
  });
}

/** A band less its moving mean. */
function quickPart(profiles: Profiles | undefined, index: number, windowMm: Mm): Float64Array {
  const values = profiles?.bands[index]?.values ?? new Float64Array();
  const half = Math.max(1, Math.round(windowMm / 2 / (profiles?.stepMm ?? windowMm)));
  const sums = new Float64Array(values.length + 1);
  values.forEach((value, i) => (sums[i + 1] = (sums[i] ?? 0) + value));
  return values.map((value, i) => {
    const [from, to] = [Math.max(0, i - half), Math.min(values.length, i + half + 1)];
    return value - ((sums[to] ?? 0) - (sums[from] ?? 0)) / (to - from);
  });
}
