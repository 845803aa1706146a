import { fuseRipples } from '../ripple/fuseRipples.js';
import { decayPerS } from '../ripple/jointFit.js';
import { measureRipples, spacingMm } from '../ripple/measureRipples.js';
import { lampsTogether } from '../ripple/movedLamp.js';
import { decideBand } from './decide.js';
import type { JointDecision, SinglePhoto } from './decideTogether.js';

/** What moving the lamp gained. */
export interface LampGain {
  /** How strongly each photo that is used shows the ripples, as a share of the first such; negative: the other way round. */
  readonly gains: readonly number[];
  /** Signal-to-noise ratio of the ripples, of the best photo alone and of all put together. */
  readonly signalToNoise: { readonly alone: number; readonly together: number };
}

/** Lamps on one side only show nothing the other way round: the photos are then fitted together like any others. */
const LEAST_CONTRAST = -0.2;
/** Decay lengths after which an eighth of the ripples is left, as noise among noise. */
const DECAYED = 2;
/** Slower changes than this many ripples are no noise. */
const WINDOW_RIPPLES = 1.5;

/**
 * Decides on photos of one face between which only the lamp was moved, put together into one set of profiles: stains
 * and what is printed on cancel where the ripples turn over.
 * @param photos - As for `decideTogether`, all flattened by the same corners.
 * @param joint - What was decided on them as photos of any kind.
 * @returns The decision with what was gained, or undefined where no lamp stood on the other side, or the photos cannot
 * be put together.
 */
export function decideLamps(
  photos: readonly (SinglePhoto | undefined)[],
  joint: JointDecision,
): (JointDecision & { readonly lamps: LampGain }) | undefined {
  const used = photos.flatMap((photo, i) =>
    photo !== undefined && joint.uses[i] === 'used' ? [photo.evidence] : [],
  );
  const [first] = used;
  const own = used.flatMap(({ ripples }) => (ripples === undefined ? [] : [ripples]));
  const fused = fuseRipples(own);
  if (first === undefined || fused === undefined) return undefined;
  const { settings } = first;
  const [frequencyHz, dampingRatio] = [fused.frequencyHz.value, fused.dampingRatio.value];
  const speed = settings.speedMmPerS.value;
  const wallMm = first.profiles?.walls[0]?.startMm ?? 0;
  const lit = used.flatMap(({ profiles }, p) =>
    profiles === undefined ? [] : [{ profiles, amplitudes: fused.amplitudes[p] ?? [] }],
  );
  const together = lampsTogether(lit, {
    fromMm: wallMm + (DECAYED * speed) / decayPerS(frequencyHz, dampingRatio),
    windowMm: WINDOW_RIPPLES * spacingMm(speed, frequencyHz),
  });
  if (together === undefined || Math.min(...together.gains) > LEAST_CONTRAST) return undefined;
  const { profiles, gains } = together;
  const ripples = measureRipples(profiles, settings, first.assumed);
  if (ripples === undefined) return undefined;
  const decision = decideBand({ ...first, profiles, ripples });
  return {
    ...decision,
    uses: joint.uses,
    lamps: {
      gains,
      signalToNoise: {
        alone: Math.max(...own.map(({ signalToNoise }) => signalToNoise)),
        together: ripples.signalToNoise,
      },
    },
  };
}
