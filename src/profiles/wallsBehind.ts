import type { Mm } from '../core/units.js';
import { hidesTooMuch } from './glare.js';
import type { Profiles } from './makeProfiles.js';
import type { SeenSlot, Slot } from './slotWidths.js';

/** Heights beside a closed one are left out as well: there the slot is hardly open. */
const LEAST_SHARE_OPEN = 0.5;

/**
 * The walls behind the slots of a face, each as if it were a face of its own: a slot's far edge is a corner like the
 * leading one, turned from the same side and left in the same direction. Heights where the slot is closed are left out,
 * since nothing kicks the machine there.
 * @param profiles - Profiles of the face.
 * @param slots - Its slots, as `slotWidths` sees them.
 * @returns One for each wall behind a slot, from the leading corner on, undefined where no gap shows; positions count from
 * the slot's far edge.
 */
export function wallsBehind(profiles: Profiles, slots: readonly Slot[]): readonly (Profiles | undefined)[] {
  return slots.map((slot, i) => {
    if (slot.seen === undefined) return undefined;
    const { centreMm, widthMm } = slot.seen;
    const next = slots[i + 1]?.seen;
    const endMm = next === undefined ? profiles.walls[i + 1]!.endMm : next.centreMm - next.widthMm.value / 2;
    return behind(profiles, centreMm + widthMm.value / 2, endMm, openBands(profiles, slot.seen));
  });
}

/** Which bands show the slot well open. */
function openBands({ bands }: Profiles, { heights, widthMm: usual }: SeenSlot): readonly boolean[] {
  const widthAt = new Map(heights.map(({ heightMm, widthMm }) => [heightMm, widthMm.value]));
  return bands.map(({ heightMm }) => (widthAt.get(heightMm) ?? 0) > LEAST_SHARE_OPEN * usual.value);
}

function behind(profiles: Profiles, startMm: Mm, endMm: Mm, open: readonly boolean[]): Profiles {
  const { positionsMm, usable } = profiles;
  const inside = [...positionsMm.keys()].filter((i) => positionsMm[i]! > startMm && positionsMm[i]! < endMm);
  const [first, end] = [inside[0] ?? 0, (inside.at(-1) ?? -1) + 1];
  return {
    ...profiles,
    walls: [{ startMm: 0, endMm: endMm - startMm, startsAt: 'slot' }],
    positionsMm: positionsMm.slice(first, end).map((x) => x - startMm),
    usable: usable.slice(first, end),
    bands: profiles.bands
      .filter((_, i) => open[i])
      // A patch that is small beside the whole face may hide the beginning of this wall.
      .filter(
        ({ missing }) =>
          missing === undefined ||
          !hidesTooMuch(missing.slice(first, end), usable.slice(first, end), profiles.stepMm, false),
      )
      .map(({ missing, ...band }) => ({
        ...band,
        values: band.values.slice(first, end),
        ...(missing === undefined ? {} : { missing: missing.slice(first, end) }),
      })),
  };
}
