import { decideWithoutFace } from './band/decide.js';
import { decideWalls } from './band/decideWalls.js';
import type { Decision, Evidence } from './band/decision.js';
import type { EarlierHz } from './band/sinceThen.js';
import type { ColourImage, GreyImage } from './core/image.js';
import { received } from './core/received.js';
import type { HeatRow } from './core/heatRow.js';
import type { Mm } from './core/units.js';
import { photoMarks, type PhotoMarks } from './face/photoMarks.js';
import { lookForFace } from './face/lookForFace.js';
import { openPhoto } from './photo/openPhoto.js';
import { PRINT_RECORD_SCHEMA, type PrintRecord } from './print/record.js';
import { settlePrint } from './print/settle.js';
import type { Profiles } from './profiles/makeProfiles.js';
import { slotWidths } from './profiles/slotWidths.js';
import { wallsBehind } from './profiles/wallsBehind.js';
import { makeReading } from './reading/makeReading.js';
import type { Reading } from './reading/schema.js';
import { heightSpectrum, type HeightSpectrum } from './ripple/heightSpectra.js';
import { detrendedBands, fittedProfile, type FittedProfile } from './ripple/jointFit.js';
import type { Ripples } from './ripple/measureRipples.js';
import { readWall } from './ripple/readWall.js';
import { proofRipples } from './ripple/proofRipples.js';
import { withCardRead, type CardRead } from './print/cardRead.js';
import { VERSION } from './version.js';

/** What a measurement may be asked for beside the band. */
export interface MeasureOptions {
  /** Only the frequency by spacing is wanted, as a quick re-check. @default false */
  readonly spacingOnly?: boolean;
  /** An earlier frequency of this axis, to tell whether it has moved; for `spacingOnly`. */
  readonly was?: EarlierHz;
  /** The record was taken from the code of the marker card in this photo, by `readCard`. @default false */
  readonly recordFromCard?: boolean;
  /** What `readCard` found, where the record was told otherwise: a code that is damaged is then told as well. */
  readonly cardRead?: CardRead;
}

/** One height's profile with the fitted ripple, and its spectrum. */
export interface HeightView {
  readonly heightMm: Mm;
  readonly profile: FittedProfile;
  readonly spectrum: HeightSpectrum;
}

/** What a picture of a reading needs beside the reading: it is not kept. */
export interface ReadingView {
  /** The flattened face, leading corner at the left; linear light, shape (rows, columns). Absent when none is read. */
  readonly face?: GreyImage;
  /** A shrunk upright copy of the photo; decoded when it is asked for. */
  readonly photo: () => Promise<ColourImage>;
  /** Where some layers and a length lie in the photo; absent when no face is read. */
  readonly marks?: PhotoMarks;
  /** Contrast along the wall at each height; absent when nothing could be fitted. */
  readonly heat?: () => readonly HeatRow[];
  /** Where the ripples are strongest; absent when nothing could be fitted. */
  readonly strongest?: HeightView;
  /** Next to the best height; absent when nothing is proposed. */
  readonly best?: HeightView;
  /** All heights that were used, from the bottom up; absent when nothing could be fitted. */
  readonly heights?: () => readonly HeightView[];
}

/** A reading with what its picture needs. */
export interface Measurement {
  readonly reading: Reading;
  readonly view: ReadingView;
}

/**
 * Measures the ringing on one photo of a test tower's face.
 * @param bytes - The photo: JPEG, PNG, WebP, TIFF, AVIF or HEIC; not modified.
 * @param record - What is known of the print, from `parsePrintRecord`.
 * @param options - What is asked for.
 * @returns The reading: a proposal or a refusal, with every number that could be measured.
 * @throws {InputError} When the photo or its corners cannot be used.
 * @throws {TypeError} When the photo is not given as bytes, or the record is none.
 */
export async function measurePhoto(
  bytes: Uint8Array,
  record: PrintRecord,
  options: MeasureOptions = {},
): Promise<Reading> {
  return (await measureForPicture(bytes, record, options)).reading;
}

/**
 * The same, with what a picture of the reading needs.
 * @param bytes - The photo.
 * @param record - What is known of the print.
 * @param options - What is asked for.
 * @returns Reading and view.
 * @throws {InputError} When the photo or its corners cannot be used.
 * @throws {TypeError} When the photo is not given as bytes, or the record is none.
 */
export async function measureForPicture(
  bytes: Uint8Array,
  record: PrintRecord,
  options: MeasureOptions = {},
): Promise<Measurement> {
  const { reading, view } = await measureStages(bytes, record, options);
  return { reading, view };
}

/** A measurement with what it was decided on. */
export interface MeasuredStages extends Measurement {
  readonly decision: Decision;
  /** The decision on the wall at the leading corner alone, which `evidence` is of. */
  readonly alone: Decision;
  /** Undefined where no face is read. */
  readonly evidence: Evidence | undefined;
}

/**
 * All stages of one photo.
 * @param bytes - The photo.
 * @param record - What is known of the print.
 * @param options - What is asked for.
 * @returns Reading and view, and what they were decided on.
 * @throws {InputError} When the photo or its corners cannot be used.
 * @throws {TypeError} When the photo is not given as bytes, or the record is none.
 */
export async function measureStages(
  bytes: Uint8Array,
  record: PrintRecord,
  options: MeasureOptions,
): Promise<MeasuredStages> {
  checkArguments(bytes, record);
  const { settings, assumptions, assumed } = settlePrint(record);
  const opened = await openPhoto(bytes);
  const { info } = opened;
  const { search: seen, read, shrunk: photo } = await lookForFace(opened, settings);
  const search = withCardRead(seen, options.cardRead);
  const recordFromCard = options.recordFromCard ?? false;
  const known = {
    version: VERSION,
    bytes,
    info,
    record,
    recordFromCard,
    settings,
    assumptions,
    assumed,
    search,
  };
  if (read === undefined) {
    const nothing = {
      geometry: undefined,
      layerLines: undefined,
      regions: undefined,
      profiles: undefined,
      ripples: undefined,
      spectra: [],
    };
    const decision = decideWithoutFace(search, info);
    return {
      reading: makeReading({ ...known, ...nothing, decision }),
      view: { photo },
      decision,
      alone: decision,
      evidence: undefined,
    };
  }
  const { face, layerLines, regions } = read;
  const { profiles, ripples: found } = readWall(face, settings, assumed);
  const isProof = settings.accelerationLadder !== undefined && options.spacingOnly !== true;
  const proof = isProof && found !== undefined ? proofRipples(profiles, settings, found) : undefined;
  const ripples = proof?.ripples ?? found;
  const spectra = profiles.bands.map((_, band) =>
    ripples === undefined ? undefined : heightSpectrum(ripples.fit, band),
  );
  const evidence: Evidence = {
    settings,
    geometry: face,
    profiles,
    ripples,
    ...(proof === undefined ? {} : { proof }),
    spacingOnly: options.spacingOnly ?? false,
    ...(options.was === undefined ? {} : { was: options.was }),
    assumed,
  };
  const slots = slotWidths(face, settings, profiles);
  const { decision, alone } = decideWalls(evidence, wallsBehind(profiles, slots));
  return {
    decision,
    alone,
    evidence,
    reading: makeReading({
      ...known,
      geometry: face,
      layerLines,
      regions,
      profiles,
      slots,
      ripples,
      spectra,
      decision,
    }),
    view: {
      photo,
      face: face.image,
      marks: photoMarks(face, settings),
      ...(ripples === undefined ? {} : { heat: () => heatRows(profiles, ripples) }),
      ...heightsToShow(profiles, ripples, spectra, decision),
    },
  };
}

/**
 * Callers in plain JavaScript are told here what they mixed up, not by some stage that stumbles over it.
 * @param bytes - Should be a photo's bytes.
 * @param record - Should be a print record.
 * @throws {TypeError} When either is not.
 */
export function checkArguments(bytes: unknown, record: unknown): void {
  if (!(bytes instanceof Uint8Array)) {
    throw new TypeError(
      `Expected the photo's bytes as a Uint8Array, as reading its file gives them, but received ${received(bytes)}`,
    );
  }
  const isRecord =
    typeof record === 'object' &&
    record !== null &&
    'schema' in record &&
    record.schema === PRINT_RECORD_SCHEMA;
  if (!isRecord) {
    throw new TypeError(`Expected a print record from parsePrintRecord but received ${received(record)}`);
  }
}

function heatRows(profiles: Profiles, { fit }: Ripples): readonly HeatRow[] {
  return detrendedBands(fit).map(({ band, positionsMm, measured }) => ({
    heightMm: profiles.bands[band]?.heightMm ?? 0,
    positionsMm,
    contrast: measured,
  }));
}

function heightsToShow(
  profiles: Profiles,
  ripples: Ripples | undefined,
  spectra: readonly (HeightSpectrum | undefined)[],
  decision: Decision,
): Pick<ReadingView, 'strongest' | 'best' | 'heights'> {
  if (ripples === undefined) return {};
  const at = (band: number | undefined): HeightView | undefined => {
    const spectrum = band === undefined ? undefined : spectra[band];
    if (band === undefined || spectrum === undefined) return undefined;
    const profile = fittedProfile(ripples.fit, band);
    return profile && { heightMm: profiles.bands[band]?.heightMm ?? 0, profile, spectrum };
  };
  const { proposal } = decision;
  const bestMm = proposal.state === 'proposed' ? proposal.bestHeightMm.value : undefined;
  const strongest = at(leastBy(profiles, (band) => -clearness(ripples, band)));
  const best =
    bestMm === undefined
      ? undefined
      : at(leastBy(profiles, (band) => Math.abs((profiles.bands[band]?.heightMm ?? 0) - bestMm)));
  return {
    heights: () =>
      [...profiles.bands.keys()]
        .flatMap((band) => at(band) ?? [])
        .toSorted((a, b) => a.heightMm - b.heightMm),
    ...(strongest === undefined ? {} : { strongest }),
    ...(best === undefined ? {} : { best }),
  };
}

/** Amplitude of a band's ripples in units of its own uncertainty. */
function clearness(ripples: Ripples, band: number): number {
  const at = ripples.amplitudes[band];
  return at === undefined ? -1 : Math.hypot(at.amplitude.re, at.amplitude.im) / at.sd;
}

function leastBy(profiles: Profiles, cost: (band: number) => number): number | undefined {
  let least: number | undefined;
  for (const band of profiles.bands.keys()) if (least === undefined || cost(band) < cost(least)) least = band;
  return least;
}
