import { beforeAll, describe, expect, it } from 'vitest';
import { measurePhoto, type Reading } from '../../src/index.js';
import { FOOT, MARK } from '../../src/planning/towerMesh.js';
import { checkPrintRecord } from '../../src/print/record.js';
import { drawScene, type SceneTruth } from '../synth/scene/drawScene.js';
import { truthOf } from '../synth/truth.js';

/** A drawn photograph in which an ordinary tower is measured. */
const SEED = 6;

describe('a photograph of a tower with height marks and foot', () => {
  let reading: Reading;
  let truth: SceneTruth;

  beforeAll(async () => {
    // Source: ray-traced scene (test/synth/scene) with the dents' flanks by Lambert's law and the foot in the face's plane.
    const drawn = await drawScene(SEED, 'plain', (scene) => {
      const { told } = scene;
      const { widthMm } = told.recipe;
      const dents = {
        ...{ everyMm: MARK.everyMm, halfMm: MARK.halfMm, flankMm: MARK.flankMm },
        fromMm: widthMm - MARK.fromEndMm - MARK.lengthMm,
        toMm: widthMm - MARK.fromEndMm,
      };
      const plan = {
        ...told,
        footMm: [FOOT.outMm, FOOT.landMm, FOOT.heightMm] as const,
        recipe: { ...told.recipe, flaws: { ...told.recipe.flaws, dents } },
      };
      return { ...scene, told: plan, towers: scene.towers.map((tower) => ({ ...tower, plan })) };
    });
    truth = drawn.truth;
    reading = await measurePhoto(drawn.jpeg, checkPrintRecord(drawn.record));
  }, 60_000);

  it('its face is found without the foot', () => {
    expect(reading.search.how).toBe('found');
    const scale = 5040 / Math.hypot(...truth.sidesPx);
    reading.face!.cornersPx.forEach(([x, y], i) => {
      const [trueX, trueY] = truth.cornersPx![i]!;
      // px of 12 megapixels: half of what counts as right (scripts/finding); the foot is 2.5 mm wide, 40 px and more.
      expect(scale * Math.hypot(x - trueX, y - trueY)).toBeLessThan(3);
    });
  });

  it('its frequency is proposed, and right within its 95 %', () => {
    if (reading.proposal.state !== 'proposed') throw new Error('Expected a proposal.');
    const { low95, high95 } = reading.proposal.frequencyHz;
    const { nullHz } = truthOf({ ...truth.face!.recipe, pxPerMm: 1, noise: 0 });
    expect(low95).toBeLessThan(nullHz);
    expect(high95).toBeGreaterThan(nullHz);
    expect(reading.penLine).toBeUndefined();
  });
});
