import { createHash } from 'node:crypto';
import { combineSd, type Estimate } from '../core/estimate.js';
import type { Decision, Proposal, SeenGeometry } from '../band/decide.js';
import { turnsOver } from '../band/nullFit.js';
import { looksTurned } from '../face/conflict.js';
import type { PhotoInfo } from '../photo/decode.js';
import { ladderHzAt, ladderSlopeHzPerMm, layerAt } from '../print/ladder.js';
import type { PrintRecord } from '../print/record.js';
import type { Assumption, PrintSettings } from '../print/settle.js';
import type { Profiles } from '../profiles/makeProfiles.js';
import type { HeightSpectrum } from '../ripple/heightSpectra.js';
import { spacingMm, type Ripples } from '../ripple/measureRipples.js';
import { adviceFor } from './advice.js';
import type { Reading } from './schema.js';
import { collectWarnings } from './warnings.js';

/** Everything that the stages found, to be put on record. */
export interface ReadingParts {
  readonly version: string;
  readonly bytes: Uint8Array;
  readonly info: PhotoInfo;
  readonly record: PrintRecord;
  readonly settings: PrintSettings;
  readonly assumptions: readonly Assumption[];
  /** The fields that `assumptions` are about. */
  readonly assumed: ReadonlySet<string>;
  readonly geometry: SeenGeometry;
  readonly profiles: Profiles | undefined;
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
  const { info, settings, geometry, profiles, ripples, decision } = parts;
  const { capture } = info;
  const spacing = decision.spacingCheck;
  return {
    schema: 'stillband/reading@1',
    versions: { stillband: parts.version },
    photos: [
      {
        sha256: createHash('sha256').update(parts.bytes).digest('hex'),
        bytes: parts.bytes.length,
        format: info.format,
        widthPx: info.widthPx,
        heightPx: info.heightPx,
        ...capture,
      },
    ],
    printRecord: parts.record,
    assumptions: [...parts.assumptions],
    face: faceOf(parts, spacing.spacingMm?.value),
    scales: geometry.scales.map((scale) => ({ ...scale })),
    walls: (profiles?.walls ?? []).map((wall) => ({ ...wall })),
    heights: heightsOf(parts),
    ...(decision.ringing === undefined
      ? {}
      : {
          ringing: {
            ...decision.ringing,
            signalToNoise: ripples?.signalToNoise ?? 0,
            ...(ripples?.doubling === undefined ? {} : { doubling: ripples.doubling }),
          },
        }),
    fixedPitches: (ripples?.fixedPitches ?? []).map((pitch) => ({ ...pitch })),
    spacingCheck: { ...spacing },
    ...nullFitOf(decision, settings),
    budget: decision.budget.map((line) => ({ ...line })),
    ...penLineOf(profiles, settings, geometry),
    proposal: proposalOf(parts),
    warnings: collectWarnings({ settings, geometry, profiles, ripples, decision }).map((w) => ({ ...w })),
  };
}

function faceOf(parts: ReadingParts, rippleMm: number | undefined): Reading['face'] {
  const { geometry, settings } = parts;
  const { pose, pxPerMm } = geometry;
  const toDegrees = 180 / Math.PI;
  const perPx = (resolution: number, relativeSd: number): Estimate => ({
    value: 1 / resolution,
    sd: relativeSd / resolution,
  });
  return {
    cornersPx: geometry.cornersPx.map(([x, y]) => [x, y]) as Reading['face']['cornersPx'],
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
    },
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

function spacingOf(speedMmPerS: number, frequencyHz: Estimate): Estimate {
  const value = spacingMm(speedMmPerS, frequencyHz.value);
  return { value, sd: (value * frequencyHz.sd) / frequencyHz.value };
}

function nullFitOf(decision: Decision, settings: PrintSettings): Pick<Reading, 'nullFit'> {
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

function penLineOf(
  profiles: Profiles | undefined,
  settings: PrintSettings,
  geometry: SeenGeometry,
): Pick<Reading, 'penLine'> {
  const line = profiles?.penLine;
  if (line === undefined) return {};
  const hz = ladderHzAt(settings.ladder, line.heightMm);
  // A hand-drawn line is as uncertain as the edge its height is counted from, and as half its width.
  const sd = combineSd(geometry.bottomSdMm, line.widthMm / Math.sqrt(12));
  return {
    penLine: {
      heightMm: { value: line.heightMm, sd },
      widthMm: line.widthMm,
      ...(hz === undefined
        ? {}
        : {
            frequencyHz: {
              value: hz.value,
              sd: combineSd(hz.sd, ladderSlopeHzPerMm(settings.ladder, line.heightMm) * sd),
            },
          }),
    },
  };
}

function proposalOf({ decision, settings, assumed }: ReadingParts): Reading['proposal'] {
  const proposal: Proposal = decision.proposal;
  if (proposal.state !== 'refused') return proposal;
  return { ...proposal, advice: adviceFor(proposal.reason, decision, { settings, assumed }) };
}
