import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import { measurePhoto } from '../../src/index.js';
import { checkPrintRecord } from '../../src/print/record.js';
import { RECIPE } from '../helpers/drawn.js';
import { expectClose } from '../helpers/closeTo.js';
import { drawFace, type FaceRecipe } from '../synth/drawFace.js';
import { seeded } from '../synth/random.js';
import { layerCount } from '../synth/recipe.js';

/** A face of 80 × 50 mm on a flatbed scanner at 600 dots per inch, with layer lines. */
const DPI = 600;
const FACE: FaceRecipe = {
  ...RECIPE,
  pxPerMm: DPI / 25.4,
  texture: { widthSlope: 0, widthMm: 1, layerJitter: 0.02, grain: 0.01, grooves: 0.15 },
};
const MARGIN = { x: 160, y: 140 } as const;
const COLUMNS = Math.round(FACE.widthMm * FACE.pxPerMm);
const ROWS = Math.round(FACE.heightMm * FACE.pxPerMm);

/** The scan: the face on the lid's dark grey, straight and without perspective. */
function scan(dotsPerInch: number): Promise<Uint8Array> {
  const { light } = drawFace(FACE);
  const [width, height] = [COLUMNS + 2 * MARGIN.x, ROWS + 2 * MARGIN.y];
  const random = seeded(31);
  const mean = light.reduce((sum, value) => sum + value, 0) / light.length;
  // sRGB, IEC 61966-2-1.
  const code = (value: number) =>
    255 * (value <= 0.0031308 ? 12.92 * value : 1.055 * Math.max(0, value) ** (1 / 2.4) - 0.055);
  const data = Uint8Array.from({ length: width * height }, (_, i) => {
    const [x, y] = [(i % width) - MARGIN.x, Math.floor(i / width) - MARGIN.y];
    const isFace = x >= 0 && x < COLUMNS && y >= 0 && y < ROWS;
    const value = isFace ? (0.35 * light[y * COLUMNS + x]!) / mean : 0.03;
    return Math.min(255, Math.max(0, code(value) + random.normal()));
  });
  return sharp(data, { raw: { width, height, channels: 1 } })
    .toColourspace('b-w')
    .png()
    .withMetadata({ density: dotsPerInch })
    .toBuffer();
}

const bytes = scan(DPI);

function recordOf(told: Readonly<Record<string, unknown>>) {
  const layers = layerCount(FACE);
  return checkPrintRecord({
    schema: 'stillband/print-record@1',
    axis: 'Y',
    speedMmPerS: FACE.speedMmPerS,
    accelerationMmPerS2: FACE.accelerationMmPerS2,
    cornerSpeedMmPerS: FACE.cornerSpeedMmPerS,
    layerHeightMm: FACE.layerHeightMm,
    layers,
    face: { leadingCorner: 'left' },
    ladder: { kind: 'linear', ...{ fromHz: 20, toHz: 60, firstLayer: 0, lastLayer: layers - 1 } },
    shaper: { family: 'ZV', dampingRatio: 0.1, hzMeans: 'natural', alongWall: 'as-ladder' },
    reference: { kind: 'dpi' },
    ...told,
  });
}

const { x: left, y: top } = MARGIN;
const facePx = [
  [left, top],
  [left + COLUMNS, top],
  [left + COLUMNS, top + ROWS],
  [left, top + ROWS],
];
const sized = { widthMm: FACE.widthMm, heightMm: FACE.heightMm, leadingCorner: 'left' };

describe('a flatbed scan', () => {
  test('is found and read, with no size told but its resolution tag', async () => {
    const { face, scales, proposal, warnings } = await measurePhoto(await bytes, recordOf({}));
    // Source: what was drawn.
    expectClose([face!.widthMm, face!.heightMm], [FACE.widthMm, FACE.heightMm], {
      rel: 0.003,
      why: 'edges, blurred by px',
    });
    const byLayers = scales.find(({ kind }) => kind === 'layers')!;
    expectClose(byLayers.perCommanded.value, 1, { abs: 0.004, why: 'the same edges' });
    if (proposal.state !== 'proposed') throw new Error(`It is ${proposal.state}.`);
    expect(proposal.frequencyHz.low95).toBeLessThan(FACE.naturalHz);
    expect(proposal.frequencyHz.high95).toBeGreaterThan(FACE.naturalHz);
    expect(warnings.map(({ code }) => code)).toContain('size-from-reference');
  });

  test.each([
    ['with no size told', {}],
    ['beside the size of the face', { face: sized }],
  ])('a tag that is wrong, as after enlarging, is noticed by the layer lines: %s', async (_, told) => {
    const enlarged = await sharp(await bytes)
      .withMetadata({ density: DPI / 1.1 })
      .png()
      .toBuffer();
    const { proposal } = await measurePhoto(enlarged, recordOf({ facePx, ...told }));
    expect(proposal).toMatchObject({ state: 'refused', reason: 'scales-disagree' });
  });
});
