import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import type { CornersPx, GreyImage, PointPx } from '../../src/core/image.js';
import { rectifyFace, type FaceGeometry } from '../../src/face/rectifyFace.js';
import type { Scale } from '../../src/face/scales.js';
import { decodeWhole, inspectPhoto } from '../../src/photo/decode.js';
import { applyHomography, homographyFromPoints } from '../../src/imaging/homography.js';
import { faceConflict } from '../../src/face/conflict.js';
import { photoTruth, type PhotoName } from '../helpers/measured.js';
import { expectClose } from '../helpers/closeTo.js';
import { readJson } from '../helpers/readReference.js';
import { seeded } from '../synth/random.js';
import { box, infoOf, locateGiven, settingsOf } from './facts.js';

/** Of a scan at 600 dpi, on which 0.2 in = 5.08 mm are 120 px. */
const DPI = 600;
const SQUARE_PX = 120;
const SQUARE_MM = 5.08;
/** Printed 29.845 × 20.32 mm, as a ruler says; commanded was 30 × 20.4: it shrank by some tenths of a percent. */
const FACE = { left: 90, top: 60, widthPx: 705, heightPx: 480, widthMm: 30, heightMm: 20.4 };
const PHYSICAL_MM = (px: number) => (px * 25.4) / DPI;
const facePx = box(FACE.left, FACE.top, FACE.widthPx, FACE.heightPx);
const face = { widthMm: FACE.widthMm, heightMm: FACE.heightMm, leadingCorner: 'left' };

/** The scan: two dark squares on the face, 0.4 in from left edge to left edge. */
function scan(): Promise<Uint8Array> {
  const [width, height] = [900, 620];
  const inSquare = (x: number, y: number, left: number) =>
    x >= left && x < left + SQUARE_PX && y >= 200 && y < 200 + SQUARE_PX;
  const data = Uint8Array.from({ length: width * height }, (_, i) => {
    const [x, y] = [i % width, Math.floor(i / width)];
    return inSquare(x, y, 200) || inSquare(x, y, 440) ? 60 : 190;
  });
  return sharp(data, { raw: { width, height, channels: 1 } })
    .toColourspace('b-w')
    .png()
    .withMetadata({ density: DPI })
    .toBuffer();
}

const physical = (geometry: FaceGeometry): Scale =>
  geometry.scales.find((scale) => scale.class === 'physical')!;

/** Length of the dark run in the row through the squares, from `first` on, in px of the flattened face. */
function darkRun(image: GreyImage, first: number): number {
  const row = 200 - FACE.top + SQUARE_PX / 2;
  let sum = 0;
  // Light falls from 0.515 to 0.045 (sRGB codes 190 and 60): the shares of each px add up to the width.
  for (let column = first; column < first + SQUARE_PX + 60; column += 1) {
    sum += (0.515 - image.get(row, column)) / (0.515 - 0.0452);
  }
  return sum;
}

describe('a scan', () => {
  test("its resolution tag gives the print's size, and squares on it come out in physical mm", async () => {
    const bytes = await scan();
    const info = await inspectPhoto(bytes);
    const geometry = locateGiven(info, settingsOf({ facePx, face, reference: { kind: 'dpi' } }));
    const { perCommanded, kind } = physical(geometry);
    expect(kind).toBe('dpi');
    // Source: closed form, the drawn sizes.
    expectClose(perCommanded.value, PHYSICAL_MM(FACE.widthPx) / FACE.widthMm, { rel: 1e-9, why: 'rounding' });
    const flat = rectifyFace(await decodeWhole(bytes, info), info, geometry);
    const commandedMm = darkRun(flat.image, 200 - FACE.left - 30) / flat.imagePxPerMm.alongWall;
    expectClose(commandedMm * perCommanded.value, SQUARE_MM, { rel: 0.002, why: 'codes are whole numbers' });
    // Without the ratio the square would be read as what it was commanded.
    expectClose(commandedMm, (SQUARE_PX / FACE.widthPx) * FACE.widthMm, { rel: 0.002, why: 'as above' });
  });

  test('two points on it give the same', async () => {
    const info = await inspectPhoto(await scan());
    const reference = { kind: 'two-points', aPx: [200, 260], bPx: [440, 260], distanceMm: 10.16 };
    const { perCommanded } = physical(locateGiven(info, settingsOf({ facePx, face, reference })));
    expectClose(perCommanded.value, PHYSICAL_MM(FACE.widthPx) / FACE.widthMm, { rel: 1e-9, why: 'rounding' });
  });

  test('without any size the face has the physical one, and no ratio to itself is told', async () => {
    const info = await inspectPhoto(await scan());
    const geometry = locateGiven(info, settingsOf({ facePx, reference: { kind: 'dpi' } }));
    expectClose([geometry.widthMm, geometry.heightMm], [29.845, 20.32], { abs: 1e-9, why: 'rounding' });
    expect(geometry.scales.map(({ class: of }) => of)).toEqual(['commanded']);
    expect(geometry.aspect).toBeUndefined();
  });

  test('without any size a second reference is held against the first, and is no size of the print either', async () => {
    const info = await inspectPhoto(await scan());
    const points = { kind: 'two-points', aPx: [200, 260], bPx: [440, 260] };
    for (const [distanceMm, agrees] of [
      [10.16, true],
      [12, false],
    ] as const) {
      const reference = [{ kind: 'dpi' }, { ...points, distanceMm }];
      const geometry = locateGiven(info, settingsOf({ facePx, reference }));
      expect(geometry.scales.map(({ class: of }) => of)).toEqual(['commanded', 'commanded']);
      expect(faceConflict(geometry) === undefined).toBe(agrees);
    }
  });
});

describe('the size from two points', () => {
  // Source: the ray tracer's camera and face (truth files), which no size in the record repeats.
  const truthOf = (name: PhotoName) => {
    const truth = photoTruth(name);
    const { W_mm, H_mm, camera, upright_size_px, face_corners_px_tl_tr_br_bl: corners } = truth;
    const toPx = homographyFromPoints(box(0, 0, W_mm, H_mm), corners);
    const [widthPx, heightPx] = upright_size_px;
    const info = infoOf({ widthPx, heightPx, capture: { focalLength35Mm: camera.f35_mm } });
    return { W_mm, H_mm, corners, toPx, info };
  };
  type Stretch = readonly [ax: number, ay: number, bx: number, by: number];
  const located = (
    { W_mm, H_mm, toPx, info }: ReturnType<typeof truthOf>,
    [ax, ay, bx, by]: Stretch,
    corners: readonly PointPx[],
    jitter: (point: PointPx) => PointPx,
    told: object = {},
  ) =>
    locateGiven(
      info,
      settingsOf({
        facePx: corners,
        face: { leadingCorner: 'left', ...told },
        reference: {
          kind: 'two-points',
          aPx: jitter(applyHomography(toPx, ax * W_mm, ay * H_mm)),
          bPx: jitter(applyHomography(toPx, bx * W_mm, by * H_mm)),
          distanceMm: Math.hypot((bx - ax) * W_mm, (by - ay) * H_mm),
        },
      }),
    );
  const STRETCHES: readonly Stretch[] = [
    [0.05, 0.1, 0.95, 0.1],
    [0.9, 0.1, 0.9, 0.9],
    [0.05, 0.9, 0.6, 0.2],
  ];

  test.each(['white-card', 'orange-card-set-back', 'red-ruler', 'silver-face-only'] as const)(
    '%s: is the true one, wherever the points lie, though the face is seen askew',
    (name) => {
      const truth = truthOf(name);
      for (const stretch of STRETCHES) {
        const geometry = located(truth, stretch, truth.corners, (point) => point);
        expectClose([geometry.widthMm, geometry.heightMm], [truth.W_mm, truth.H_mm], {
          rel: 0.0005,
          why: 'the focal length is spread by 4 % around the true one, which bends the mean a little',
        });
        expect(geometry.scales).toHaveLength(1);
        expect(geometry.sharedRelativeSd).toBeGreaterThan(0.005);
        // One side told: the ratio is then a measurement, and the other side follows from the corners' shape.
        const half = located(truth, stretch, truth.corners, (point) => point, { widthMm: truth.W_mm });
        expectClose(half.heightMm, truth.H_mm, { rel: 0.0005, why: 'as above' });
        expectClose(physical(half).perCommanded.value, 1, { abs: 0.0005, why: 'as above' });
      }
    },
  );

  test.each(STRETCHES)(
    'its uncertainty is that of the clicks: (%d, %d) to (%d, %d) of the face',
    (...stretch) => {
      const truth = truthOf('red-ruler');
      const DRAWS = 600;
      const random = seeded(19);
      const jitter = ([x, y]: PointPx): PointPx => [x + 2 * random.normal(), y + 2 * random.normal()];
      const widths: number[] = [];
      const heights: number[] = [];
      for (let draw = 0; draw < DRAWS; draw += 1) {
        const { widthMm, heightMm } = located(truth, stretch, truth.corners.map(jitter), jitter);
        widths.push(Math.log(widthMm / truth.W_mm));
        heights.push(Math.log(heightMm / truth.H_mm));
      }
      const rms = (list: readonly number[]) => Math.sqrt(list.reduce((sum, e) => sum + e * e, 0) / DRAWS);
      const { lengthRelativeSd, heightRelativeSd } = located(truth, stretch, truth.corners, (point) => point);
      // The claims also hold what no click shows: the outline, the focal length, and what physical mm are worth.
      expect(rms(widths)).toBeLessThan(lengthRelativeSd);
      expect(rms(heights)).toBeLessThan(heightRelativeSd);
      expect(lengthRelativeSd).toBeLessThan(0.015);
      expect(heightRelativeSd).toBeLessThan(0.015);
    },
  );
});

describe('two points in perspective', () => {
  const VIEW = readJson('homography_pose.json') as {
    readonly card_px: CornersPx;
    readonly probe_mm: readonly PointPx[];
    readonly probe_px: readonly PointPx[];
  };
  const told = { facePx: VIEW.card_px, face: { widthMm: 85.6, heightMm: 53.98, leadingCorner: 'left' } };
  const from = (i: number, j: number, stretch = 1) => {
    const [a, b] = [VIEW.probe_mm[i]!, VIEW.probe_mm[j]!];
    const distanceMm = stretch * Math.hypot(a[0] - b[0], a[1] - b[1]);
    return { kind: 'two-points', aPx: VIEW.probe_px[i], bPx: VIEW.probe_px[j], distanceMm };
  };

  test('the distance is taken in the plane of the face, wherever the points lie in it', () => {
    // Source: test/reference/homography_pose.json, exact view: the ratio is 1.
    for (const [i, j] of [
      [0, 1],
      [0, 2],
      [1, 3],
      [2, 4],
    ] as const) {
      for (const stretch of [1, 0.994]) {
        const geometry = locateGiven(infoOf(), settingsOf({ ...told, reference: from(i, j, stretch) }));
        expectClose(physical(geometry).perCommanded.value, stretch, { rel: 1e-8, why: 'rounding' });
      }
    }
  });

  // Points on the face, as the record asks for: from corner to corner, and a short way near each end.
  test.each([
    [3, 3, 82, 50],
    [3, 27, 30, 30],
    [60, 10, 83, 45],
  ])('its uncertainty is that of the clicks: (%d, %d) to (%d, %d) mm', (ax, ay, bx, by) => {
    const DRAWS = 3000;
    const random = seeded(7);
    const jitter = ([x, y]: PointPx, sd: number): PointPx => [
      x + sd * random.normal(),
      y + sd * random.normal(),
    ];
    const { mmToPx, cornerSdPx } = locateGiven(infoOf(), settingsOf(told));
    const [aPx, bPx] = [applyHomography(mmToPx, ax, ay), applyHomography(mmToPx, bx, by)];
    const distanceMm = Math.hypot(bx - ax, by - ay);
    const scaleFor = (a: PointPx, b: PointPx, corners: readonly PointPx[]) => {
      const reference = { kind: 'two-points', aPx: a, bPx: b, distanceMm };
      return physical(locateGiven(infoOf(), settingsOf({ ...told, facePx: corners, reference })))
        .perCommanded;
    };
    const values = Array.from({ length: DRAWS }, () => {
      const corners = VIEW.card_px.map((corner) => jitter(corner, cornerSdPx));
      return scaleFor(jitter(aPx, cornerSdPx), jitter(bPx, cornerSdPx), corners).value;
    });
    const mean = values.reduce((sum, value) => sum + value, 0) / DRAWS;
    const sd = Math.sqrt(values.reduce((sum, value) => sum + (value - mean) ** 2, 0) / (DRAWS - 1));
    const { sd: claimed } = scaleFor(aPx, bPx, VIEW.card_px);
    // 3 standard errors of a standard deviation, 3/√(2n) = 4 %; one formula serves all pairs, within a quarter.
    expect(sd / claimed).toBeLessThan(1.25 * 1.04);
    expect(sd / claimed).toBeGreaterThan(0.75 * 0.96);
  });
});

test('a point of the photo is where the drawn face has it', () => {
  const geometry = locateGiven(infoOf(), settingsOf({ facePx, face }));
  expectClose(
    applyHomography(geometry.mmToPx, 15, 10.2),
    [FACE.left + FACE.widthPx / 2, FACE.top + FACE.heightPx / 2],
    {
      abs: 1e-9,
      why: 'rounding',
    },
  );
});
