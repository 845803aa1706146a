import sharp, { type Sharp } from 'sharp';
import { describe, expect, test } from 'vitest';
import { measurePhoto } from '../../src/measurePhoto.js';
import type { Reading } from '../../src/reading/schema.js';
import { expectClose } from '../helpers/closeTo.js';
import { photoBytes, photoTruth, PHOTO_NAMES, recordAsTold, type PhotoName } from '../helpers/measured.js';

// Source of every expected value here: the truth files of the ray tracer (testimages/README.md). No corner is told.

const cache = new Map<PhotoName, Promise<Reading>>();

function found(name: PhotoName): Promise<Reading> {
  const known = cache.get(name);
  if (known !== undefined) return known;
  const fresh = measurePhoto(photoBytes(name), recordAsTold(name));
  cache.set(name, fresh);
  return fresh;
}

/** Rms distance of four corners from the true ones, along x and y, px of a photo of 12 megapixels. */
function cornersOff({ face, photos }: Reading, name: PhotoName): number {
  const truth = photoTruth(name).face_corners_px_tl_tr_br_bl;
  const squares = face!.cornersPx.flatMap(([x, y], i) => [(x - truth[i]![0]) ** 2, (y - truth[i]![1]) ** 2]);
  const { widthPx, heightPx } = photos[0]!;
  const at12 = Math.sqrt(12.2e6 / (widthPx * heightPx));
  return at12 * Math.sqrt(squares.reduce((sum, square) => sum + square, 0) / squares.length);
}

describe.each(PHOTO_NAMES)('%s with nothing clicked', (name) => {
  const truth = photoTruth(name);

  test('the face is found', async () => {
    const reading = await found(name);
    expect(reading.search.how).toBe('found');
    expect(reading.search.confidence).toBeGreaterThan(0.9);
    // DESIGN 10 asks for 1.5 px rms. The truth is the nominal box, from which the printed outline strays by 0.1 mm and
    // more, 2 px; black-markers has a lens that bends edges by several px.
    expect(cornersOff(reading, name)).toBeLessThan(name === 'black-markers' ? 2.5 : 2.1);
  });

  test("the scale of each reference is the print's, which did not shrink", async () => {
    const { scales, search, printRecord } = await found(name);
    const kinds = [printRecord.reference ?? []].flat().map(({ kind }) => kind);
    expect(search.missing).toEqual([]);
    for (const kind of kinds.filter((one) => one !== 'face')) {
      const { value, sd } = scales.find((scale) => scale.kind === kind)!.perCommanded;
      // DESIGN 10: 0.3 % in the plane of the face, 1 % off it.
      expectClose(value, 1, { abs: name === 'orange-card-set-back' ? 0.01 : 0.003, why: 'DESIGN 10' });
      expect(Math.abs(value - 1)).toBeLessThan(2 * sd);
    }
  });

  test('heights are counted in layers', async () => {
    const { layerLines, face } = await found(name);
    expect(layerLines).toMatchObject({ used: true });
    // The printed outline is off by some tenths of a mm, the layers are not.
    expectClose(layerLines!.pitchMm.value, 0.2, { rel: 0.004, why: 'edges off by 0.15 mm of 50' });
    expectClose(face!.heightMm, truth.H_mm, { abs: 0.25, why: 'the same' });
  });

  test('the frequency is within 1 Hz, and inside its interval', async () => {
    const { proposal, spacingCheck } = await found(name);
    expectClose(spacingCheck.spacingMm!.value, truth.wavelength_mm, {
      rel: 0.01,
      why: 'issue 3 asks for 3 %',
    });
    if (truth.null === null) {
      expect(proposal).toMatchObject({ state: 'refused', reason: 'ladder-has-no-range' });
      return;
    }
    if (proposal.state !== 'proposed') throw new Error(`it is ${proposal.state}`);
    const { value, low95, high95 } = proposal.frequencyHz;
    expectClose(value, truth.null.best_fs_hz, { abs: 1, why: 'issue 5' });
    expect([low95 < truth.null.best_fs_hz, truth.null.best_fs_hz < high95]).toEqual([true, true]);
  });
});

test('the lens of black-markers is seen, and that of no other', async () => {
  for (const name of PHOTO_NAMES) {
    const { face } = await found(name);
    const { k1 } = photoTruth(name).camera;
    if (k1 === 0) expect(face!.lens, name).toBeUndefined();
    else expectClose(face!.lens!.k1, k1, { abs: 0.008, why: 'twice what the markers tell' });
  }
});

/** red-ruler with its top-right corner clicked so far from where it is. */
function clicked(right: number, down: number): Promise<Reading> {
  const [, topRight] = photoTruth('red-ruler').face_corners_px_tl_tr_br_bl;
  const click: [number, number] = [topRight![0] + right, topRight![1] + down];
  const facePx: [null, typeof click, null, null] = [null, click, null, null];
  return measurePhoto(photoBytes('red-ruler'), { ...recordAsTold('red-ruler'), facePx });
}

describe('one clicked corner', () => {
  const [, topRight] = photoTruth('red-ruler').face_corners_px_tl_tr_br_bl;
  const codesOf = ({ warnings }: Reading) => warnings.map(({ code }) => code);

  test('is enough to choose, and keeps its place', async () => {
    const reading = await clicked(6, -5);
    expect(reading.search.how).toBe('found');
    expectClose(reading.face!.cornersPx[1], topRight!, { abs: 2, why: 'the edges, not the click' });
    expect(codesOf(reading)).not.toContain('corner-moved');
  });

  test('that lies off the edges is told to', async () => {
    // 0.4 % of the longer side are 13 px.
    const reading = await clicked(30, 40);
    expectClose(reading.face!.cornersPx[1], topRight!, { abs: 2, why: 'the edges, not the click' });
    expect(codesOf(reading)).toContain('corner-moved');
    expect(reading.warnings.find(({ code }) => code === 'corner-moved')!.text).toMatch(
      /top-right by (?:49|5[01]) px/,
    );
  });

  test('on another thing is refused, and the face without it is shown', async () => {
    const { proposal, search } = await clicked(-459, 0);
    expect(proposal).toMatchObject({ state: 'refused', reason: 'face-unclear' });
    expect(search.cause).toBe('click');
    expectClose(search.guesses[0]!.cornersPx[1], topRight!, { abs: 2, why: 'the edges, without the click' });
  });
});

test('a width told wrong is to blame where nothing else in the photo could be the face', async () => {
  const record = recordAsTold('orange-card-set-back');
  const told = { ...record, face: { ...record.face, widthMm: 0.93 * record.face.widthMm! } };
  const { proposal, search } = await measurePhoto(photoBytes('orange-card-set-back'), told);
  expect(proposal).toMatchObject({ state: 'refused', reason: 'face-unclear' });
  expect(search.cause).toBe('shape');
});

describe('what is no good is refused by name', () => {
  const size = { width: 2400, height: 1800, channels: 3 as const };
  const noise = () =>
    sharp(
      Uint8Array.from({ length: 2400 * 1800 * 3 }, (_, i) => 128 + 90 * Math.sin(12.9898 * i * (i % 7))),
      { raw: { width: 2400, height: 1800, channels: 3 } },
    )
      .png({ compressionLevel: 1 })
      .toBuffer();
  const plain = (level: number) =>
    sharp({ create: { ...size, background: { r: level, g: level, b: level } } })
      .png()
      .toBuffer();
  const changed = (change: (picture: Sharp) => Sharp) => async () =>
    change(sharp(await sharp(photoBytes('white-card')).autoOrient().toBuffer()))
      .jpeg({ quality: 95 })
      .toBuffer();
  const part = (left: number, top: number, width: number, height: number) => async () =>
    sharp(await sharp(photoBytes('white-card')).autoOrient().toBuffer())
      .extract({ left, top, width, height })
      .jpeg({ quality: 95 })
      .toBuffer();

  test.each<[string, () => Promise<Uint8Array>, readonly string[]]>([
    ['black', () => plain(0), ['too-dark']],
    ['white', () => plain(255), ['glare']],
    ['grey', () => plain(120), ['face-not-found']],
    ['a tower blurred by 8 px', changed((picture) => picture.blur(8)), ['blurred']],
    ['a tower in a twentieth of the codes', changed((picture) => picture.linear(0.05, 0)), ['too-dark']],
    ['a tower exposed far too long', changed((picture) => picture.linear(4, 0)), ['glare']],
    ['noise', noise, ['face-not-found']],
    [
      'one pixel',
      () =>
        sharp({ create: { ...size, width: 1, height: 1, background: '#777' } })
          .png()
          .toBuffer(),
      ['too-coarse'],
    ],
    ['a face cut by the frame', part(900, 300, 2100, 3000), ['face-cut-off', 'face-not-found']],
    [
      'the desk beside the tower',
      part(0, 2200, 3024, 1800),
      ['face-not-found', 'face-cut-off', 'face-unclear'],
    ],
    [
      'a thumbnail',
      () => sharp(photoBytes('white-card')).autoOrient().resize(160).jpeg().toBuffer(),
      ['too-coarse'],
    ],
  ])('%s', async (_, make, reasons) => {
    const { proposal, search } = await measurePhoto(await make(), recordAsTold('white-card'));
    if (proposal.state !== 'refused') throw new Error(`it is ${proposal.state}`);
    expect(reasons).toContain(proposal.reason);
    expect(proposal.advice).toMatch(/^[A-Z].*\.$/);
    if (search.how !== 'found') expect(search.guesses.length).toBeLessThanOrEqual(3);
  });

  test('a mirrored photo: the ripples begin at the other end', async () => {
    const bytes = await sharp(await sharp(photoBytes('black-markers')).autoOrient().toBuffer())
      .flop()
      .jpeg({ quality: 95 })
      .toBuffer();
    const { proposal, warnings, search } = await measurePhoto(bytes, recordAsTold('black-markers'));
    // Its marker card is read the other way round.
    expect(search.missing).toEqual([]);
    const codes = warnings.map(({ code }) => code);
    expect(codes).toContain('photo-mirrored');
    expect(proposal.state === 'refused' || codes.includes('ends-look-swapped')).toBe(true);
  });

  const turnedBy = (name: PhotoName, degrees: number) => async () =>
    sharp(await sharp(photoBytes(name)).autoOrient().toBuffer())
      .rotate(degrees)
      .jpeg({ quality: 95 })
      .toBuffer();

  // The leading corner is told as it lies in the photo, and so nothing but the ladder is upside down.
  test.each(PHOTO_NAMES.filter((name) => photoTruth(name).null !== null))(
    '%s upside down: the ladder runs the wrong way, and no wrong number is told',
    async (name) => {
      const record = recordAsTold(name);
      const leadingCorner = record.face.leadingCorner === 'left' ? 'right' : 'left';
      const told = { ...record, face: { ...record.face, leadingCorner } } as const;
      const { proposal } = await measurePhoto(await turnedBy(name, 180)(), told);
      expect(proposal).toMatchObject({ state: 'refused' });
      if (proposal.state !== 'refused') return;
      expect([
        'ladder-reversed',
        'spacing-disagrees',
        'scales-disagree',
        'face-unclear',
        'too-uncertain',
      ]).toContain(proposal.reason);
    },
  );

  test.each([90, 180, 270])(
    'white-card turned by %d°, with its own top-left corner clicked, reads the same',
    async (degrees) => {
      const [width, height] = photoTruth('white-card').upright_size_px;
      const [x, y] = photoTruth('white-card').face_corners_px_tl_tr_br_bl[0]!;
      const turned: Readonly<Record<number, [number, number]>> = {
        90: [height - y, x],
        180: [width - x, height - y],
        270: [y, width - x],
      };
      const facePx: [[number, number], null, null, null] = [turned[degrees]!, null, null, null];
      const told = { ...recordAsTold('white-card'), facePx };
      const { proposal } = await measurePhoto(await turnedBy('white-card', degrees)(), told);
      if (proposal.state !== 'proposed') throw new Error(`it is ${JSON.stringify(proposal)}`);
      expectClose(proposal.frequencyHz.value, photoTruth('white-card').null!.best_fs_hz, {
        abs: 0.4,
        why: 'its own ±',
      });
    },
  );
});
