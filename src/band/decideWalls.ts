import type { Profiles } from '../profiles/makeProfiles.js';
import { columnsLeft, LEAST_COLUMNS } from '../ripple/jointFit.js';
import { measureRipples } from '../ripple/measureRipples.js';
import { decideBand } from './decide.js';
import { decideTogether, isFit, type JointDecision, type SinglePhoto } from './decideTogether.js';
import type { Decision, Evidence, WallUse } from './decision.js';

/** A face with its walls. */
export interface DecidedWalls {
  readonly decision: Decision;
  /** By the wall at the leading corner alone. */
  readonly alone: Decision;
}

/**
 * Decides on all walls of a face together, as on several photos of one axis: frequency, damping ratio and null are
 * shared, phase, gain and lean belong to each wall. The wall at the leading corner leads: where its ripples are refused for
 * what they look like, so is the face, and a wall behind a slot that contradicts it is left out.
 * @param first - What was measured at the leading corner.
 * @param behind - Profiles of each wall behind a slot; undefined where the slot shows no gap.
 * @returns The decision, which is that on the first wall where no other counts.
 */
export function decideWalls(first: Evidence, behind: readonly (Profiles | undefined)[]): DecidedWalls {
  const alone = decideBand(first);
  if (behind.length === 0) return { decision: alone, alone };
  const without = (others: readonly WallUse[]): DecidedWalls => ({
    decision: { ...alone, walls: [first.ripples === undefined ? 'unfit' : 'used', ...others] },
    alone,
  });
  const { settings, ripples, spacingOnly } = first;
  const alternates = settings.direction === 'alternates' || ripples?.bothEnds === true;
  if (settings.accelerationLadder !== undefined || spacingOnly || alternates) {
    return without(behind.map((one) => (one === undefined ? 'not-seen' : 'not-tried')));
  }
  const singles = behind.map((profiles) => profiles && alike(first, profiles));
  const leader = { evidence: first, decision: alone };
  const own = singles.map(ownUse);
  if (!isFit(leader)) return without(own.map((use) => (use === 'used' ? 'unfit' : use)));
  const joint = decideTogether([leader, ...singles], 'walls');
  const { uses, ...found } = joint;
  const { proposal } = found;
  // Two that contradict each other, or the leading corner's against the others.
  const apart =
    uses[0] !== 'used' || (proposal?.state === 'refused' && proposal.reason === 'photos-disagree');
  const worse = alone.proposal.state === 'proposed' && proposal?.state !== 'proposed';
  if (proposal === undefined || apart || worse) {
    return without(own.map((use) => (use === 'used' ? 'contradicts' : use)));
  }
  const walls = own.map((use, i): WallUse =>
    use !== 'used' || uses[i + 1] === 'used' ? use : 'contradicts',
  );
  if (!walls.includes('used')) return without(walls);
  return { decision: together(alone, { ...found, proposal }, ['used', ...walls]), alone };
}

/** A wall behind a slot by itself. */
function alike(first: Evidence, profiles: Profiles): SinglePhoto {
  const evidence = {
    ...first,
    profiles,
    ripples: measureRipples(profiles, first.settings, first.assumed),
  };
  return { evidence, decision: decideBand(evidence) };
}

/** Why a wall cannot count; `used` where it can. */
function ownUse(single: SinglePhoto | undefined): WallUse {
  if (single === undefined) return 'not-seen';
  const { evidence } = single;
  const { profiles, settings, ripples } = evidence;
  const wall = profiles?.walls[0];
  if (ripples === undefined && profiles !== undefined && wall !== undefined) {
    return columnsLeft(profiles, settings, wall) < LEAST_COLUMNS ? 'too-short' : 'unfit';
  }
  return isFit(single) ? 'used' : 'unfit';
}

const NONE = new Float64Array();

/** The joint decision; what is drawn over the heights is that of the wall at the leading corner. */
function together(
  alone: Decision,
  { nullFit, ringing, ...joint }: Omit<JointDecision, 'uses'> & { readonly proposal: Decision['proposal'] },
  walls: readonly WallUse[],
): Decision {
  const second = alone.ringing?.second;
  const { turned = NONE, path = NONE } = alone.nullFit ?? {};
  return {
    ...joint,
    ...(ringing === undefined
      ? {}
      : { ringing: { ...ringing, ...(second === undefined ? {} : { second }) } }),
    ...(nullFit === undefined ? {} : { nullFit: { ...nullFit, turned, path } }),
    walls,
  };
}
