import type { Face } from '../face/rectifyFace.js';
import type { PrintSettings } from '../print/settle.js';
import { makeProfiles, type Profiles } from '../profiles/makeProfiles.js';
import { measureRipples, type Ripples } from './measureRipples.js';

/** What a wall shows. */
export interface WallReading {
  readonly profiles: Profiles;
  /** Undefined when the wall is too short or too much of it is spoilt. */
  readonly ripples: Ripples | undefined;
}

/**
 * Takes the profiles of a face and finds their ripples. Where only the ripples tell that the layers were printed in
 * alternating directions, the profiles are made again: a band must hold as many layers of one direction as of the other.
 * @param face - The flattened face.
 * @param settings - The print's settings.
 * @param assumed - Fields of the print record that were not told.
 * @returns Profiles, and the ripples that were fitted to them.
 */
export function readWall(face: Face, settings: PrintSettings, assumed: ReadonlySet<string>): WallReading {
  const profiles = makeProfiles(face, settings);
  const ripples = measureRipples(profiles, settings, assumed);
  if (ripples?.bothEnds !== true || settings.direction === 'alternates') return { profiles, ripples };
  const alternating = { ...settings, direction: 'alternates' } as const;
  const even = makeProfiles(face, alternating);
  const isSame =
    even.bands.length === profiles.bands.length &&
    even.bands.every(({ heightMm }, i) => heightMm === profiles.bands[i]?.heightMm);
  if (isSame) return { profiles, ripples };
  const again = measureRipples(even, alternating, assumed);
  return again === undefined ? { profiles, ripples } : { profiles: even, ripples: again };
}
