import ndarray from 'ndarray';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import { findLayers, type LayerLines } from '../../src/face/findLayers.js';
import { heightOf } from '../../src/face/followLayers.js';
import { lensFromLayers } from '../../src/face/lensFromLayers.js';
import type { PointPx } from '../../src/core/image.js';
import type { Face } from '../../src/face/rectifyFace.js';
import { homographyFromPoints } from '../../src/imaging/homography.js';
import { linearLut } from '../../src/imaging/tone.js';
import { rectify } from '../../src/imaging/warp.js';
import { expectClose } from '../helpers/closeTo.js';
import { flatPhoto } from '../helpers/flatPhoto.js';
import { PHOTO_NAMES, photoPath, photoTruth } from '../helpers/measured.js';
import { drawFace } from '../synth/drawFace.js';
import { placeOf } from '../synth/picture.js';
import { populationCase } from '../synth/population.js';
import { seeded } from '../synth/random.js';
import type { FaceRecipe } from '../synth/recipe.js';

/** Layers between the lower edge of a face and a px of it, along the line of constant distance from its side. */
function layersAt(
  { lines }: LayerLines,
  [rows, columns]: readonly [number, number],
  [x, y]: readonly [number, number],
) {
  const [u, v] = [(2 * x) / columns - 1, (2 * y) / rows - 1];
  return lines.layersPerRow * (rows - y) + heightOf(lines.surface, u, 1) - heightOf(lines.surface, u, v);
}

type Flat = Pick<Face, 'image' | 'imagePxPerMm'>;

/** Brightness from a function of px, centres at +0.5, at 20 px per mm. */
function painted(rows: number, columns: number, light: (x: number, y: number) => number): Flat {
  const data = new Float32Array(rows * columns);
  for (let k = 0; k < data.length; k += 1) {
    data[k] = light((k % columns) + 0.5, Math.floor(k / columns) + 0.5);
  }
  return { image: ndarray(data, [rows, columns]), imagePxPerMm: { alongWall: 20, alongHeight: 20 } };
}

function found(face: Flat, toldMm: number): LayerLines {
  const lines = findLayers(face, toldMm);
  if (lines === undefined) throw new Error('expected layer lines but found none');
  return lines;
}

describe('layer lines painted by a formula', () => {
  // Closed form: brightness 1 + 0.1 cos 2πφ; φ counts layers down from the upper edge, tilted and stretched a little.
  const [ROWS, COLUMNS] = [1000, 800];
  const phase = (x: number, y: number) => {
    const [u, v] = [x / 400 - 1, y / 500 - 1];
    return 0.234 + y / 4.02 + 0.8 * u + 0.5 * u * v + 0.4 * v * v - 0.3 * u * u + 0.2 * v * v * v;
  };
  const random = seeded(5);
  const face = painted(
    ROWS,
    COLUMNS,
    (x, y) => (0.4 + 0.0002 * x) * (1 + 0.1 * Math.cos(2 * Math.PI * phase(x, y)) + 0.05 * random.normal()),
  );
  const lines = found(face, 0.2);

  test('are counted, and measured', () => {
    const count = phase(400, ROWS) - phase(400, 0);
    expectClose(lines.count.value, count, { abs: 0.02, why: 'noise of 5 % over 40 stripes' });
    expectClose(lines.pitchMm.value, 50 / count, { rel: 1e-4, why: 'the same' });
    expectClose(lines.pxPerLayer, ROWS / count, { rel: 1e-4, why: 'the same' });
    expectClose(lines.contrast, 0.1, {
      rel: 0.05,
      why: 'blocks of ten layers and stripes of 2 mm, in which the lines lie aslant',
    });
  });

  test('say which layer is where, all over the face', () => {
    for (const [x, y] of [
      [0, 0],
      [800, 0],
      [0, 500],
      [650, 300],
      [400, 990],
    ] as const) {
      expectClose(layersAt(lines, [ROWS, COLUMNS], [x, y]), phase(x, ROWS) - phase(x, y), {
        abs: 0.05,
        why: 'noise; the corners are extrapolated',
      });
    }
  });

  test('have their darkest place where it is', () => {
    const bottom = phase(400, ROWS);
    const dark = (bottom - 0.5) % 1;
    expectClose(lines.boundaryMm.value, dark * 0.2, {
      abs: 0.003,
      why: 'noise, and a pitch that is not quite even',
    });
    expectClose(lines.boundaryMm.sd, 0.05, {
      rel: 0.02,
      why: 'a quarter of a layer, for light from above or below',
    });
  });

  test('are found as well where another height is told, if they are clear', () => {
    for (const told of [0.15, 0.25, 0.3, 0.4]) {
      expectClose(found(face, told).pitchMm.value, lines.pitchMm.value, { rel: 1e-6, why: 'the same lines' });
    }
  });

  test('are not believed where the told ones could not be seen', () => {
    expect(findLayers(face, 0.1)).toBeUndefined();
    expect(findLayers(face, 0.104)).toBeUndefined();
  });

  test('that repeat every second layer more than every layer are doubtful, and less are not', () => {
    const pair = (share: number) =>
      painted(
        ROWS,
        COLUMNS,
        (_, y) =>
          0.4 *
          (1 +
            0.1 * Math.cos(0.5 * Math.PI * y) +
            0.1 * share * Math.cos(0.25 * Math.PI * y) +
            0.05 * random.normal()),
      );
    expect(findLayers(pair(2), 0.2)).toBeUndefined();
    expectClose(found(pair(0.4), 0.2).pitchMm.value, 0.2, { rel: 1e-4, why: 'noise' });
    // Told twice as high, the finer lines are an overtone of what is told.
    expect(findLayers(pair(0.4), 0.4)).toBeUndefined();
  });

  test('that run across are none: an alias, a grain of the picture', () => {
    const across = painted(
      ROWS,
      COLUMNS,
      (x, y) => 0.4 * (1 + 0.1 * Math.cos(2 * Math.PI * (y / 4 + x / 100))),
    );
    expect(findLayers(across, 0.2)).toBeUndefined();
  });

  test('nothing comes of nothing', () => {
    expect(
      findLayers(
        painted(600, 500, () => 0.4),
        0.2,
      ),
    ).toBeUndefined();
    expect(
      findLayers(
        painted(600, 500, () => 0),
        0.2,
      ),
    ).toBeUndefined();
    expect(
      findLayers(
        painted(600, 500, () => 0.4 + 0.05 * random.normal()),
        0.2,
      ),
    ).toBeUndefined();
    expect(
      findLayers(
        painted(1, 1, () => 0.4),
        0.2,
      ),
    ).toBeUndefined();
    expect(
      findLayers(
        painted(600, 3, (_, y) => 1 + 0.1 * Math.cos(1.6 * y)),
        0.2,
      ),
    ).toBeUndefined();
    // Uneven layers without lines between them.
    const level = Array.from({ length: 300 }, () => 0.05 * random.normal());
    expect(
      findLayers(
        painted(1000, 500, (_, y) => 0.4 * (1 + level[Math.floor(y / 4)]!)),
        0.2,
      ),
    ).toBeUndefined();
  });
});

/** A drawn face, 40 mm wide to be quick, and how many layers lie between its edges by its truth. */
function drawnLayers(recipe: FaceRecipe): { readonly face: Flat; readonly count: number } {
  const { light, rows, columns } = drawFace(recipe);
  const { rowMm } = placeOf(recipe, recipe.picture);
  return {
    face: {
      image: ndarray(light, [rows, columns]),
      imagePxPerMm: { alongWall: columns / recipe.widthMm, alongHeight: rows / recipe.heightMm },
    },
    count: (rowMm(-0.5, rows) - rowMm(rows - 0.5, rows)) / recipe.layerHeightMm,
  };
}

/** Seeds of the population's own ranges: from sharp to badly blurred, 2 to 9 px per layer. */
function narrow(seed: number, change: (recipe: FaceRecipe) => Partial<FaceRecipe>): FaceRecipe {
  const { recipe } = populationCase('main', seed);
  const plain = { ...recipe, widthMm: 40, heightMm: 40 };
  return { ...plain, ...change(plain) };
}

describe('layer lines of drawn faces', () => {
  test('the count is right and as certain as it says, at 2.5 to 6 px per layer', () => {
    const random = seeded(71);
    let [squares, relative, runs] = [0, 0, 0];
    for (let seed = 600; seed < 614; seed += 1) {
      const recipe = narrow(seed, (plain) => ({
        pxPerMm: random.even(2.5, 6) / plain.layerHeightMm,
        noise: random.logEven(0.003, 0.05),
        texture: { ...plain.texture!, grooves: random.even(0.05, 0.3) },
        picture: { ...plain.picture!, blurPx: random.even(0.6, 1.2) },
      }));
      const { face, count } = drawnLayers(recipe);
      const lines = found(face, recipe.layerHeightMm);
      const off = lines.count.value - count;
      // DESIGN §10: layer pitch to 0.05 %; the study has 0.003 to 0.025 %.
      expectClose(lines.count.value, count, {
        rel: 5e-4,
        abs: 2 * lines.count.sd,
        why: `DESIGN §10, seed ${seed}`,
      });
      squares += (off / lines.count.sd) ** 2;
      relative += (off / count) ** 2;
      runs += 1;
    }
    expect(Math.sqrt(squares / runs)).toBeLessThan(1.3);
    expect(Math.sqrt(relative / runs)).toBeLessThan(5e-4);
  });

  test('without lines, nothing is found', () => {
    for (let seed = 640; seed < 648; seed += 1) {
      const recipe = narrow(seed, (plain) => ({ texture: { ...plain.texture!, grooves: 0 } }));
      const { face } = drawnLayers(recipe);
      for (const told of [0.2, recipe.layerHeightMm, 0.35]) {
        expect(findLayers(face, told), `seed ${seed} told ${told}`).toBeUndefined();
      }
    }
  });

  test('blurred by as much as a layer, nothing is found', () => {
    for (let seed = 660; seed < 663; seed += 1) {
      const recipe = narrow(seed, (plain) => ({
        pxPerMm: 16,
        picture: { ...plain.picture!, blurPx: 16 * plain.layerHeightMm },
      }));
      expect(findLayers(drawnLayers(recipe).face, recipe.layerHeightMm), `seed ${seed}`).toBeUndefined();
    }
  });
});

describe.each(PHOTO_NAMES)('layer lines of the photograph %s, flattened by its true corners', (name) => {
  const { camera } = photoTruth(name);
  const lens = { k1: camera.k1, centrePx: camera.principal_point_px, focalPx: camera.focal_px };
  // Source: the ray tracer's layers, 0.2 mm each over the nominal height.
  const layers = photoTruth(name).H_mm / 0.2;

  test('are resolved, with the true pitch', async () => {
    const face = await flatPhoto(name, lens.k1 === 0 ? undefined : lens);
    const { pitchMm, count } = found(face, 0.2);
    expectClose(pitchMm.value, 0.2, { rel: 5e-4, abs: pitchMm.sd, why: 'DESIGN §10: 0.05 %; light' });
    expectClose(count.value, layers, { abs: 2 * count.sd, why: 'two standard uncertainties' });
    expect(found(face, 0.25).pitchMm).toEqual(pitchMm);
    expect(findLayers(face, 0.09)).toBeUndefined();
  });

  test('tell the lens', async () => {
    const face = await flatPhoto(name);
    const k1 = lensFromLayers(found(face, 0.2), face.cornersPx, lens.centrePx, lens.focalPx)!;
    expectClose(k1.value, lens.k1, { abs: 2 * k1.sd, why: 'two standard uncertainties' });
    expect(k1.sd).toBeLessThan(name === 'black-markers' ? 0.01 : 0.03);
  });
});

describe.each(['white-card', 'black-markers', 'red-ruler'] as const)('the photograph %s', (name) => {
  const { face_corners_px_tl_tr_br_bl: corners, upright_size_px: sides, W_mm, H_mm } = photoTruth(name);

  test.each([1.3, 1.6, 1.85])(
    'shrunk to %d px per layer without care, has no layer lines',
    async (pxPerLayer) => {
      // The nearest px is taken: the lines are folded down, as sharp as they come.
      const data = await sharp(photoPath(`${name}.jpg`))
        .rotate()
        .greyscale()
        .raw()
        .toBuffer();
      const share = pxPerLayer / (0.2 * (await flatPhoto(name)).imagePxPerMm.alongHeight);
      const [width, height] = sides.map((side) => Math.floor(side * share)) as [number, number];
      const small = new Uint8Array(width * height);
      for (let k = 0; k < small.length; k += 1) {
        const x = Math.floor(((k % width) + 0.5) / share);
        const y = Math.floor((Math.floor(k / width) + 0.5) / share);
        small[k] = data[y * sides[0] + x]!;
      }
      const pxPerMm = pxPerLayer / 0.2;
      const [rows, columns] = [Math.round(H_mm * pxPerMm), Math.round(W_mm * pxPerMm)];
      const box: PointPx[] = [
        [0, 0],
        [columns, 0],
        [columns, rows],
        [0, rows],
      ];
      const shrunk = corners.map(([x, y]): PointPx => [x * share, y * share]);
      const codes = ndarray(small, [height, width]);
      const image = rectify(codes, linearLut(8), homographyFromPoints(box, shrunk), rows, columns);
      const imagePxPerMm = { alongWall: columns / W_mm, alongHeight: rows / H_mm };
      for (const told of [0.2, 0.3, 0.4, 0.5]) {
        expect(findLayers({ image, imagePxPerMm }, told), `told ${told}`).toBeUndefined();
      }
    },
  );
});
