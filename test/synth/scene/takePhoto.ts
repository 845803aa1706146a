import { seeded, type Random } from '../random.js';
import { develop, type Development } from './develop.js';
import { mapLight, type Light, type Window } from './light.js';
import type { Thing } from './objects.js';
import { render } from './render.js';
import type { Surface } from './surface.js';
import type { Room } from './surroundings.js';
import type { Vector } from './vector.js';
import type { View } from './view.js';

/** What a photo is taken of, and how it is lit. */
export interface Sight {
  readonly view: View;
  readonly light: Light;
  readonly room: Room;
  /** Where brightness is 1. */
  readonly middleMm: Vector;
  /** The brightest reflectance that should not be burnt out. */
  readonly brightest: number;
}

/** Standard deviations of the blur belong to this many pixels. */
const USUAL_PIXELS = 4032 * 3024;

/**
 * Takes a photo.
 * @param sight - Camera, lamp, desk and wall.
 * @param thing - All else.
 * @param random - Where the camera's settings come from.
 * @param seed - Of the noise.
 * @returns Codes, red, green, blue for each pixel, and the settings.
 */
export function takePhoto(
  sight: Sight,
  thing: Thing,
  random: Random,
  seed: number,
): { readonly codes: Uint8Array; readonly development: Development } {
  const { camera } = sight.view;
  const rays = seeded(seed * 16 + 11);
  const surfaces = [...thing.surfaces, sight.room.desk, sight.room.wall];
  const picture = render(
    camera,
    surfaces.map((surface) => ({
      surface,
      light:
        typeof surface.light === 'object'
          ? surface.light.share
          : mapLight(surface, sight.light, sight.middleMm, thing.solids, windowOf(sight.room, surface), rays),
    })),
  );
  const [widthPx, heightPx] = camera.sidesPx;
  const { even, logEven } = random;
  const development: Development = {
    blurPx: logEven(0.6, 2.6) * Math.sqrt((widthPx * heightPx) / USUAL_PIXELS),
    vignetting: even(0, 0.35),
    exposure: even(0.4, 0.85) / sight.brightest,
    shotNoise: logEven(0.004, 0.03),
    readNoise: logEven(0.0005, 0.004),
    tint: [even(0.94, 1.08), even(0.9, 1.06)],
    seed: seed * 31 + 5,
  };
  return { codes: develop(picture, widthPx, heightPx, development), development };
}

function windowOf(room: Room, surface: Surface): Window {
  if (surface === room.desk) return room.deskWindow;
  if (surface === room.wall) return room.wallWindow;
  const { heightMm } = surface;
  if (surface.shape === 'patch') return { fromU: 0, toU: surface.widthMm, fromV: 0, toV: heightMm };
  const half = Math.PI * surface.radiusMm;
  return { fromU: -half, toU: half, fromV: 0, toV: heightMm };
}
