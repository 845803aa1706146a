import { expect, test } from 'vitest';
import { makeProfiles } from '../../src/profiles/makeProfiles.js';
import { drawn } from '../helpers/drawn.js';
import { faceUnpenned } from '../synth/penned.js';

/** `npm run bench:pen` looks at ten times as many; docs/pen.json has its figures. */
const FACES = 25;

// Source: the truth of test/synth, which draws no pen line on these.
test(
  `on ${FACES} faces with scratches, strings, blobs, seams, shadows and uneven layers no line is found`,
  {
    timeout: 180_000,
  },
  () => {
    const found = Array.from({ length: FACES }, (_, i) => {
      const { recipe } = faceUnpenned(1000 + i);
      const { face, settings } = drawn({ ...recipe, pxPerMm: Math.min(recipe.pxPerMm, 12) });
      return makeProfiles(face, settings).penLines.length;
    });
    expect(found).toEqual(found.map(() => 0));
  },
);
