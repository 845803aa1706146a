import { readFileSync } from 'node:fs';
import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { expectClose } from '../../helpers/closeTo.js';
import { lightOfCodes } from '../picture.js';
import { lookAt, project, undistortion, type Camera } from './camera.js';
import { build, compose } from './compose.js';
import { develop } from './develop.js';
import { drawScene, type SceneTruth } from './drawScene.js';
import { MARKER_BITS } from './references.js';
import { render } from './render.js';
import type { Patch } from './surface.js';
import { takePhoto } from './takePhoto.js';

const frontal: Camera = {
  ...lookAt([0, 0, 200], [0, 0, 0], 0),
  sidesPx: [400, 300],
  focalPx: 500,
  k1: 0,
};

describe('camera', () => {
  // Source: closed form, u = f x / z.
  it('a point in front of a straight camera', () => {
    expectClose(project(frontal, [10, 20, 0])!, [200 + (500 * 10) / 200, 150 - (500 * 20) / 200], {
      abs: 1e-9,
      why: 'doubles',
    });
  });

  // Source: closed form: a camera at azimuth a and elevation e that looks at the origin sees a point p at depth d − p·w,
  // with w the direction to the camera; right of it by p·(cos a, 0, −sin a). Rolled clockwise, the picture turns the other way.
  it('a turned and rolled camera with a lens', () => {
    const [a, e, d, roll, k1] = [0.3, 0.2, 250, 0.07, -0.04];
    const w = [Math.sin(a) * Math.cos(e), Math.sin(e), Math.cos(a) * Math.cos(e)] as const;
    const camera: Camera = {
      ...lookAt([d * w[0], d * w[1], d * w[2]], [0, 0, 0], roll),
      sidesPx: [4032, 3024],
      focalPx: 3000,
      k1,
    };
    const p = [31, -22, 7] as const;
    const depth = d - (p[0] * w[0] + p[1] * w[1] + p[2] * w[2]);
    const right = p[0] * Math.cos(a) - p[2] * Math.sin(a);
    const up = -p[0] * Math.sin(e) * Math.sin(a) + p[1] * Math.cos(e) - p[2] * Math.sin(e) * Math.cos(a);
    const x = (right * Math.cos(roll) - up * Math.sin(roll)) / depth;
    const y = (-up * Math.cos(roll) - right * Math.sin(roll)) / depth;
    const stretch = 3000 * (1 + k1 * (x * x + y * y));
    expectClose(project(camera, p)!, [2016 + stretch * x, 1512 + stretch * y], { abs: 1e-8, why: 'doubles' });
  });

  it.each([-0.06, 0, 0.03])('the lens is undone for k1 = %d', (k1) => {
    const camera = { ...frontal, k1 };
    const undo = undistortion(camera);
    for (const r of [0.01, 0.1, 0.3, 0.45]) {
      const distorted = r * (1 + k1 * r * r);
      // Source: closed form, the definition of the distortion; 1e-9 of 3000 px is nothing.
      expectClose(distorted * undo(distorted ** 2), r, { abs: 1e-9, why: 'steps of the table' });
    }
  });
});

describe('render', () => {
  const slope = Math.tan(0.11);
  const half: Patch = {
    shape: 'patch',
    originMm: [-100, -100, 0],
    across: [1, 0, 0],
    up: [0, 1, 0],
    widthMm: 200,
    heightMm: 200,
    inside: (u, v) => u - 100 < 3.7 + slope * (v - 100),
    material: {
      colour: (_u, _v, _region, _footprint, out) => {
        out.fill(1);
      },
    },
    light: { share: 1 },
  };

  // Source: closed form. A step of light covers each row up to where it lies: x = 200 + 2.5 (3.7 + slope · height).
  it('a step lies where it belongs, to a hundredth of a pixel', () => {
    const light = render(frontal, [{ surface: half, light: 1 }]);
    let worst = 0;
    let mean = 0;
    for (let row = 50; row < 250; row += 1) {
      let covered = 0;
      for (let column = 0; column < 400; column += 1) covered += light[3 * (row * 400 + column)]!;
      const heightMm = (150 - row - 0.5) / 2.5;
      const off = covered - (200 + 2.5 * (3.7 + slope * heightMm));
      worst = Math.max(worst, Math.abs(off));
      mean += off / 200;
    }
    // A ray is a sixteenth of a pixel.
    expect(worst).toBeLessThan(1 / 15);
    expectClose(mean, 0, { abs: 0.01, why: 'sixteen rays for each pixel' });
  });
});

describe('development', () => {
  // Light of a code, so that the bright side is not rounded.
  const exposure = lightOfCodes(Uint8Array.of(218))[0]!;
  const settings = {
    vignetting: 0,
    exposure,
    shotNoise: 0,
    readNoise: 0,
    tint: [1, 1],
    seed: 3,
  } as const;

  // Source: closed form, a step blurred by a Gaussian is the normal distribution: 0.8413 at one standard deviation, and its
  // middle stays where it was. Codes by IEC 61966-2-1.
  it.each([0.6, 1, 2.4])('a step with a blur of %d px', (blurPx) => {
    const [width, height] = [64, 32];
    const light = new Float32Array(3 * width * height);
    for (let i = 0; i < light.length; i += 1) light[i] = Math.floor(i / 3) % width >= 32 ? 1 : 0;
    const codes = develop(light, width, height, { ...settings, blurPx });
    const linear = lightOfCodes(codes.slice(3 * width * 16, 3 * width * 17));
    const at = (x: number) => {
      const [low, share] = [Math.floor(x - 0.5), (x - 0.5) % 1];
      return ((1 - share) * linear[3 * low]! + share * linear[3 * low + 3]!) / exposure;
    };
    expectClose(at(32), 0.5, { abs: 0.006, why: 'codes' });
    let total = 0;
    for (let x = 0; x < width; x += 1) total += linear[3 * x]! / exposure;
    expectClose(total, 32, { abs: 0.03, why: 'light is kept, but for the codes' });
    const spread = slopeWidth(linear, width);
    expectClose(spread, blurPx, { rel: 0.03, why: 'codes, and taps that end' });
  });
});

/** Standard deviation of the derivative of a rising row. */
function slopeWidth(linear: Float32Array, width: number): number {
  let [sum, mean, square] = [0, 0, 0];
  for (let x = 1; x < width; x += 1) {
    const step = linear[3 * x]! - linear[3 * x - 3]!;
    sum += step;
    mean += step * x;
    square += step * x * x;
  }
  return Math.sqrt(square / sum - (mean / sum) ** 2);
}

type Four = readonly (readonly number[])[];

/** Projective map from four points to four points, by elimination of its eight equations. */
function mapOf(from: Four, to: Four): (x: number, y: number) => readonly [number, number] {
  const rows = from.flatMap(([x, y], i) => {
    const [u, v] = [to[i]![0]!, to[i]![1]!];
    return [
      [x!, y!, 1, 0, 0, 0, -u * x!, -u * y!, u],
      [0, 0, 0, x!, y!, 1, -v * x!, -v * y!, v],
    ];
  });
  for (let c = 0; c < 8; c += 1) {
    const best = rows.reduce(
      (most, row, r) => (r >= c && Math.abs(row[c]!) > Math.abs(rows[most]![c]!) ? r : most),
      c,
    );
    [rows[c], rows[best]] = [rows[best]!, rows[c]!];
    for (let r = 0; r < 8; r += 1) {
      if (r === c) continue;
      const factor = rows[r]![c]! / rows[c]![c]!;
      rows[r] = rows[r]!.map((value, k) => value - factor * rows[c]![k]!);
    }
  }
  const h = rows.map((row, i) => row[8]! / row[i]!);
  return (x, y) => {
    const w = h[6]! * x + h[7]! * y + 1;
    return [(h[0]! * x + h[1]! * y + h[2]!) / w, (h[3]! * x + h[4]! * y + h[5]!) / w];
  };
}

async function greyOf(photo: Buffer | string): Promise<(x: number, y: number) => number> {
  const { data, info } = await sharp(photo)
    .autoOrient()
    .greyscale()
    .raw()
    .toBuffer({ resolveWithObject: true });
  return (x, y) => {
    const [column, row] = [Math.floor(x - 0.5), Math.floor(y - 0.5)];
    const [a, b] = [x - 0.5 - column, y - 0.5 - row];
    const i = row * info.width + column;
    return (
      (1 - b) * ((1 - a) * data[i]! + a * data[i + 1]!) +
      b * ((1 - a) * data[i + info.width]! + a * data[i + info.width + 1]!)
    );
  };
}

describe('marker card', () => {
  // Source: the project's ray-traced photographs, whose cards are not of our making (testimages/README.md).
  it.each(['black-markers', 'blue-markers'])('has the bits of %s', async (name) => {
    const file = JSON.parse(readFileSync(`testimages/${name}.truth.json`, 'utf8')) as {
      reference: { centres_px_tl_tr_br_bl: Four };
    };
    const centres = [
      [0, 0],
      [70, 0],
      [70, 35],
      [0, 35],
    ];
    const place = mapOf(centres, file.reference.centres_px_tl_tr_br_bl);
    const grey = await greyOf(`testimages/${name}.jpg`);
    const seen = centres.map(([x, y]) =>
      [0, 1, 2, 3].map((row) =>
        [0, 1, 2, 3]
          .map((column) => (grey(...place(x! + 3 * column - 4.5, y! + 3 * row - 4.5)) > 110 ? '1' : '0'))
          .join(''),
      ),
    );
    expect(seen).toEqual(MARKER_BITS);
  });
});

/** From places on a plane, of which the truth knows the face's corners, to px: a projective map and then the lens. */
function throughLens(truth: SceneTruth, corners: Four): (x: number, y: number) => readonly [number, number] {
  const { focalPx, k1 } = truth.camera;
  const [cx, cy] = [truth.sidesPx[0] / 2, truth.sidesPx[1] / 2];
  const undo = undistortion({ ...frontal, sidesPx: truth.sidesPx, focalPx, k1 });
  const straight = truth.cornersPx!.map(([x, y]) => {
    const [u, v] = [(x - cx) / focalPx, (y - cy) / focalPx];
    const factor = undo(u * u + v * v);
    return [u * factor, v * factor];
  });
  const map = mapOf(corners, straight);
  return (x, y) => {
    const [u, v] = map(x, y);
    const stretch = focalPx * (1 + k1 * (u * u + v * v));
    return [cx + stretch * u, cy + stretch * v];
  };
}

describe('scene', () => {
  it.each(['plain', 'two-towers', 'no-tower'] as const)(
    '%s: the same seed gives the same picture',
    (kind) => {
      const codes = [0, 1].map(() => {
        const { scene, random } = compose(4, kind);
        const { camera } = scene.view;
        const small = { ...camera, sidesPx: [160, 160] as const, focalPx: (camera.focalPx * 160) / 4000 };
        const sight = { ...scene, view: { ...scene.view, camera: small } };
        return takePhoto(sight, build(sight), random, 4).codes;
      });
      expect(codes[1]).toEqual(codes[0]);
      expect(new Set(codes[0]).size).toBeGreaterThan(20);
    },
  );

  // Source: the told layer height. The face is flattened by its true corners, and the strongest wave near a layer's
  // height is sought in twelve columns.
  it('is upright as the truth says, and layers have their height there', async () => {
    const { jpeg, truth } = await drawScene(12, 'plain');
    const { width, height, orientation } = await sharp(jpeg).metadata();
    expect(orientation ?? 1).toBe(truth.orientation);
    expect(truth.orientation >= 5 ? [height, width] : [width, height]).toEqual(truth.sidesPx);
    const { widthMm, heightMm, layerHeightMm } = truth.face!.recipe;
    const place = throughLens(truth, [
      [0, 0],
      [widthMm, 0],
      [widthMm, heightMm],
      [0, heightMm],
    ]);
    const grey = await greyOf(jpeg);
    const samples = 4096;
    const power = (pitchMm: number) => {
      let total = 0;
      for (let column = 1; column <= 12; column += 1) {
        let [re, im] = [0, 0];
        for (let i = 0; i < samples; i += 1) {
          const y = heightMm * (0.05 + (0.9 * i) / samples);
          const value = grey(...place((column / 13) * widthMm, y)) * Math.sin((Math.PI * i) / samples) ** 2;
          re += value * Math.cos((2 * Math.PI * y) / pitchMm);
          im += value * Math.sin((2 * Math.PI * y) / pitchMm);
        }
        total += re * re + im * im;
      }
      return total;
    };
    let best = 0.97;
    for (let ratio = 0.97; ratio <= 1.03; ratio += 0.0005) {
      if (power(ratio * layerHeightMm) > power(best * layerHeightMm)) best = ratio;
    }
    expectClose(best, 1, {
      abs: 0.0015,
      why: 'a line of the spectrum is a three-hundredth wide',
    });
  }, 120_000);
});
