import { sha256Hex } from '../core/sha256.js';
import type { Estimate } from '../core/estimate.js';
import type { Decided, Decision, Proposal, SeenGeometry } from '../band/decision.js';
import { turnsOver } from '../band/nullFit.js';
import { looksTurned, suspectOf } from '../face/conflict.js';
import type { CornersPx, PointPx } from '../core/image.js';
import { distanceOf } from '../core/vector.js';
import type { CountedLayers } from '../face/countLayers.js';
import { LEAST_CONFIDENCE } from '../face/findFace.js';
import type { ReadFace } from '../face/readFace.js';
import type { UsedReference } from '../face/scales.js';
import type { SeenFace, SeenReference, UnseenFace } from '../face/seenFace.js';
import type { PhotoInfo } from '../photo/decode.js';
import { layerAt } from '../print/ladder.js';
import type { CardCode } from '../print/cardCode.js';
import { machineOf, type PrintRecord } from '../print/record.js';
import type { Assumption, PrintSettings } from '../print/settle.js';
import type { Profiles } from '../profiles/makeProfiles.js';
import type { Slot } from '../profiles/slotWidths.js';
import type { HeightSpectrum } from '../ripple/heightSpectra.js';
import { spacingMm, type Ripples } from '../ripple/measureRipples.js';
import { adviceFor } from './advice.js';
import { penLineOf } from './penLine.js';
import type { Reading } from './schema.js';
import { slotsOf } from './slotsOf.js';
import { collectWarnings } from './warnings.js';

/** Everything that the stages found, to be put on record. */
export interface ReadingParts {
  readonly version: string;
  readonly bytes: Uint8Array;
  readonly info: PhotoInfo;
  readonly record: PrintRecord;
  /** The record was taken from the card's code. @default false */
  readonly recordFromCard?: boolean;
  readonly settings: PrintSettings;
  readonly assumptions: readonly Assumption[];
  /** The fields that `assumptions` are about. */
  readonly assumed: ReadonlySet<string>;
  /** What was looked for in the photo, and what was found. */
  readonly search: SeenFace | UnseenFace;
  /** Undefined where no face is read. */
  readonly geometry: SeenGeometry | undefined;
  readonly layerLines: CountedLayers | undefined;
  readonly regions: ReadFace['regions'] | undefined;
  readonly profiles: Profiles | undefined;
  /** The told slots; absent where no face is read. */
  readonly slots?: readonly Slot[];
  readonly ripples: Ripples | undefined;
  /** One for each band of the profiles. */
  readonly spectra: readonly (HeightSpectrum | undefined)[];
  readonly decision: Decision;
}

/**
 * Puts the results of all stages into one reading.
 * @param parts - What the stages found.
 * @returns Plain data that survives JSON.
 */
export function makeReading(parts: ReadingParts): Reading {
  const { settings, search, geometry, layerLines, profiles, ripples, decision } = parts;
  const spacing = decision.spacingCheck;
  return {
    schema: 'stillband/reading@1',
    versions: { stillband: parts.version },
    photos: [photoOf(parts)],
    printRecord: recordOf(parts),
    assumptions: [...parts.assumptions],
    search: searchOf(parts),
    ...(geometry === undefined ? {} : { face: faceOf(geometry, parts, spacing.spacingMm?.value) }),
    ...(layerLines === undefined ? {} : { layerLines: { ...layerLines } }),
    scales: (geometry?.scales ?? []).map((scale) => ({ ...scale })),
    walls: (profiles?.walls ?? []).map((wall, i) => {
      const use = decision.walls?.[i];
      return { ...wall, ...(use === undefined ? {} : { use }) };
    }),
    ...slotsOf(parts.slots, settings),
    heights: heightsOf(parts),
    ...(decision.ringing === undefined
      ? {}
      : {
          ringing: {
            ...decision.ringing,
            signalToNoise: decision.signalToNoise ?? ripples?.signalToNoise ?? 0,
            ...(ripples?.doubling === undefined ? {} : { doubling: ripples.doubling }),
          },
        }),
    fixedPitches: (ripples?.fixedPitches ?? []).map((pitch) => ({ ...pitch })),
    spacingCheck: { ...spacing },
    ...nullFitOf(decision, settings),
    budget: decision.budget.map((line) => ({ ...line })),
    ...penLineOf(parts),
    proposal: proposalOf(parts),
    warnings: collectWarnings({
      record: parts.record,
      settings,
      search,
      geometry,
      layersSeen: layerLines !== undefined,
      profiles,
      ripples,
      decision,
    }).map((w) => ({ ...w })),
  };
}

/**
 * What identifies a photo.
 * @param parts - Its bytes and its header.
 * @returns The part of a reading.
 */
export function photoOf({ bytes, info }: Pick<ReadingParts, 'bytes' | 'info'>): Reading['photos'][number] {
  return {
    sha256: sha256Hex(bytes),
    bytes: bytes.length,
    format: info.format,
    widthPx: info.widthPx,
    heightPx: info.heightPx,
    ...info.capture,
  };
}

/** One that no face was found for. */
type UnusedReference = SeenReference & { readonly use: 'none'; readonly seemsBehindMm?: undefined };

/**
 * What was looked for in the photo, and what was found, as it is kept.
 * @param parts - The search, and the face where one is read.
 * @returns The part of a reading.
 */
export function searchOf({
  search,
  geometry,
  recordFromCard = false,
}: Pick<ReadingParts, 'search' | 'geometry' | 'recordFromCard'>): Reading['search'] {
  const references: readonly (UsedReference | UnusedReference)[] =
    geometry?.references ?? search.references.map((one) => ({ ...one, use: 'none' }));
  const seen = 'cornersPx' in search ? search : undefined;
  return {
    how: seen !== undefined && geometry === undefined ? 'scale-missing' : search.how,
    ...(seen?.confidence === undefined ? {} : { confidence: seen.confidence }),
    ...('cause' in search && search.cause !== undefined ? { cause: search.cause.what } : {}),
    guesses:
      'guesses' in search
        ? search.guesses
            .filter(
              ({ cornersPx }) => !references.some(({ outlinePx }) => isSameOutline(cornersPx, outlinePx)),
            )
            .map((one) => ({ ...one, cornersPx: copied(one.cornersPx) }))
        : [],
    references: references.map((one) => ({
      kind: one.kind,
      outlinePx: one.outlinePx.map(([x, y]) => [x, y] as [number, number]),
      confidence: one.confidence,
      ...(one.behindFaceMm === undefined ? {} : { behindFaceMm: one.behindFaceMm }),
      use: one.use,
      ...(one.seemsBehindMm === undefined ? {} : { seemsBehindMm: one.seemsBehindMm }),
    })),
    missing: [...search.missing],
    ...(search.cardCode === undefined ? {} : { cardCode: cardCodeOf(search.cardCode, recordFromCard) }),
  };
}

/** Corners of one thing, seen twice, lie no further apart than this share of its longest diagonal. */
const SAME_SHARE = 0.08;

/** Whether something that was taken for a face is a reference: all its corners are corners of the other. */
function isSameOutline(cornersPx: readonly PointPx[], outlinePx: readonly PointPx[]): boolean {
  const reach = SAME_SHARE * Math.max(...outlinePx.flatMap((a) => outlinePx.map((b) => distanceOf(a, b))));
  return cornersPx.every((corner) => outlinePx.some((other) => distanceOf(corner, other) <= reach));
}

function cardCodeOf(code: CardCode, recordFromCard: boolean): NonNullable<Reading['search']['cardCode']> {
  if (code.state !== 'read') return { state: code.state };
  const machine = machineOf(code.record);
  return { state: recordFromCard ? 'record' : 'read', ...(machine === undefined ? {} : { machine }) };
}

/** A record that does not name its machine gets the one on the card: photos of many machines share a record so. */
function recordOf({ record, search: { cardCode } }: ReadingParts): PrintRecord {
  const machine = record.machine ?? (cardCode?.state === 'read' ? machineOf(cardCode.record) : undefined);
  return machine === undefined ? record : { ...record, machine };
}

/** Nine regions, row by row; what is not known of a region is left out. */
function regionsOf({ blurPx, clippedShare, noise }: ReadFace['regions']): Region[] {
  return clippedShare.flatMap((row, down) =>
    row.map((clipped, across): Region => {
      const [blur, grain] = [blurPx?.[down]?.[across], noise[down]?.[across]];
      return {
        clippedShare: clipped,
        ...(blur === undefined ? {} : { blurPx: blur }),
        ...(grain === undefined ? {} : { noise: grain }),
      };
    }),
  );
}

type Region = NonNullable<NonNullable<Reading['face']>['quality']['byRegion']>[number];

function copied(corners: CornersPx): NonNullable<Reading['face']>['cornersPx'] {
  return corners.map(([x, y]) => [x, y]) as NonNullable<Reading['face']>['cornersPx'];
}

/**
 * The face as it is kept.
 * @param geometry - Where it is.
 * @param parts - What was told of it, and its quality by region.
 * @param rippleMm - Spacing of the ripples, measured or expected.
 * @returns The part of a reading.
 */
export function faceOf(
  geometry: NonNullable<ReadingParts['geometry']>,
  { settings, regions }: Pick<ReadingParts, 'settings' | 'regions'>,
  rippleMm: number | undefined,
): NonNullable<Reading['face']> {
  const { pose, pxPerMm, lens } = geometry;
  const toDegrees = 180 / Math.PI;
  const perPx = (resolution: number, relativeSd: number): Estimate => ({
    value: 1 / resolution,
    sd: relativeSd / resolution,
  });
  return {
    cornersPx: copied(geometry.cornersPx),
    cornerSdPx: geometry.cornerSdPx,
    widthMm: geometry.widthMm,
    heightMm: geometry.heightMm,
    bottomMm: geometry.bottomMm,
    sizeSd: {
      widthMm: geometry.widthMm * geometry.lengthRelativeSd,
      heightMm: geometry.heightMm * geometry.heightRelativeSd,
      bottomMm: geometry.bottomSdMm,
    },
    mirrored: geometry.mirrored,
    shape: {
      ...(geometry.aspect === undefined
        ? {}
        : { aspect: geometry.aspect, looksTurned: looksTurned(geometry) }),
      skewDeg: { value: toDegrees * geometry.skewRad.value, sd: toDegrees * geometry.skewRad.sd },
    },
    mmPerPx: {
      alongWall: perPx(pxPerMm.alongWall, geometry.lengthRelativeSd),
      alongHeight: perPx(pxPerMm.alongHeight, geometry.heightRelativeSd),
    },
    ...(pose === undefined
      ? {}
      : {
          pose: {
            obliquityDeg: toDegrees * pose.obliquityRad,
            distanceMm: { value: pose.distanceMm, sd: pose.distanceSdMm },
          },
        }),
    quality: {
      pxPerLayer: settings.layerHeightMm * pxPerMm.alongHeight,
      ...(rippleMm === undefined ? {} : { pxPerRipple: rippleMm * pxPerMm.alongWall }),
      ...(geometry.clippedShare === undefined ? {} : { clippedShare: geometry.clippedShare }),
      ...(geometry.blurPx === undefined ? {} : { blurPx: geometry.blurPx }),
      ...(regions === undefined ? {} : { byRegion: regionsOf(regions) }),
    },
    ...(lens === undefined
      ? {}
      : { lens: { k1: lens.k1, focalPx: lens.focalPx, centrePx: [lens.centrePx[0], lens.centrePx[1]] } }),
  };
}

function heightsOf({ profiles, ripples, spectra, decision, settings }: ReadingParts): Reading['heights'] {
  if (profiles === undefined) return [];
  const speed = settings.speedMmPerS.value;
  // The null fit has one entry for each shaped band with an amplitude, in the same order.
  let fitted = 0;
  return profiles.bands.map((band, i) => {
    const amplitude = ripples?.amplitudes[i];
    const spectrum = spectra[i];
    const inNullFit = band.ladderHz !== undefined && amplitude !== undefined;
    const index = inNullFit ? fitted++ : undefined;
    const signed = index === undefined ? undefined : decision.nullFit?.turned[index];
    const path = index === undefined ? undefined : decision.nullFit?.path[index];
    return {
      heightMm: band.heightMm,
      layer: layerAt(band.heightMm, settings.layerHeightMm, settings.firstLayerHeightMm),
      ...(band.ladderHz === undefined ? {} : { ladderHz: band.ladderHz }),
      ...accelerationOf(band, settings),
      ...(spectrum === undefined
        ? {}
        : {
            spacingMm: spacingOf(speed, spectrum.peakHz),
            frequencyHz: spectrum.peakHz,
            noise: spectrum.noiseFloor,
          }),
      ...(amplitude === undefined
        ? {}
        : {
            amplitude: {
              value: Math.hypot(amplitude.amplitude.re, amplitude.amplitude.im),
              sd: amplitude.sd,
            },
          }),
      ...(signed === undefined ? {} : { signedAmplitude: signed }),
      ...(path === undefined ? {} : { fittedAmplitude: path }),
      significant: spectrum?.significant ?? false,
    };
  });
}

function accelerationOf(
  { accelerationStep }: Profiles['bands'][number],
  { accelerationLadder }: PrintSettings,
): Pick<Reading['heights'][number], 'accelerationMmPerS2'> {
  const step = accelerationStep === undefined ? undefined : accelerationLadder?.[accelerationStep];
  return step === undefined ? {} : { accelerationMmPerS2: step.mmPerS2 };
}

function spacingOf(speedMmPerS: number, frequencyHz: Estimate): Estimate {
  const value = spacingMm(speedMmPerS, frequencyHz.value);
  return { value, sd: (value * frequencyHz.sd) / frequencyHz.value };
}

/**
 * The null as it is kept.
 * @param decision - What was decided, of one photo or several.
 * @param settings - The print's settings.
 * @returns The field, or nothing where no null was fitted.
 */
export function nullFitOf(decision: Decided, settings: PrintSettings): Pick<Reading, 'nullFit'> {
  const { nullFit: fit, fromNull } = decision;
  if (fit === undefined || fromNull === undefined) return {};
  const { naturalHz, dampingRatio, timeOrigin, reversalF, signalBelow, signalAbove } = fit;
  return {
    nullFit: {
      naturalHz,
      dampingRatio,
      nullHz: fromNull,
      turnsOver: turnsOver(settings.shaper.family),
      timeOrigin,
      reversalF,
      signalBelow,
      signalAbove,
    },
  };
}

/** What a proposal's advice is drawn from, beside the decision. */
export interface ProposalFacts extends Pick<ReadingParts, 'settings' | 'assumed' | 'geometry'> {
  readonly decision: Decided;
  readonly search?: ReadingParts['search'];
}

/**
 * The proposal as it is kept.
 * @param facts - What was decided, of one photo or several, and what the advice depends on.
 * @returns The proposal; a refusal with its advice.
 */
export function proposalOf(facts: ProposalFacts): Reading['proposal'] {
  const { decision, settings, assumed, geometry, search } = facts;
  const proposal: Proposal = decision.proposal;
  if (proposal.state === 'proof') {
    const { steps, model, ...rest } = proposal;
    return { ...rest, steps: [...steps], ...(model === undefined ? {} : { model: [...model] }) };
  }
  if (proposal.state !== 'refused') return proposal;
  const suspect = geometry === undefined ? undefined : suspectOf(geometry, settings);
  const unseen = search !== undefined && 'cause' in search ? search.cause?.what : undefined;
  const best = search !== undefined && 'guesses' in search ? search.guesses[0] : undefined;
  const seenForSure = (best?.confidence ?? 0) > LEAST_CONFIDENCE;
  const told = { settings, assumed, suspect, distanceMm: geometry?.pose?.distanceMm, unseen, seenForSure };
  return { ...proposal, advice: adviceFor(proposal.reason, decision, told) };
}
