import sharp, { type Sharp } from 'sharp';
import { describe, expect, test } from 'vitest';
import { checkPhoto } from '../../src/checkPhoto.js';
import { measurePhoto } from '../../src/measurePhoto.js';
import { photoCheckSchema, type PhotoCheck } from '../../src/reading/checkSchema.js';
import { expectClose } from '../helpers/closeTo.js';
import { photoBytes, photoTruth, PHOTO_NAMES, recordAsTold, type PhotoName } from '../helpers/measured.js';

// Source of expected values: the truth files of the ray tracer (testimages/README.md), and what `measurePhoto` says.

async function altered(name: PhotoName, change: (picture: Sharp) => Sharp): Promise<Uint8Array> {
  return change(sharp(photoBytes(name)).autoOrient())
    .keepExif()
    .jpeg({ quality: 92 })
    .toBuffer();
}

function checked(check: PhotoCheck): PhotoCheck {
  return photoCheckSchema.parse(JSON.parse(JSON.stringify(check)));
}

describe('a photo that will do', () => {
  test.each(PHOTO_NAMES)('is told so before it is measured: %s', async (name) => {
    const check = checked(await checkPhoto(photoBytes(name), recordAsTold(name)));
    expect(check.verdict).toEqual({ state: 'will-do' });
    expect(check.search.how).toBe('found');
  });

  test('with nothing told of the print will do where its face is clear, and may do where its size is asked for', async () => {
    const check = checked(await checkPhoto(photoBytes('white-card')));
    expect(check.verdict.state).toBe('will-do');
    const unsure = checked(await checkPhoto(photoBytes('silver-face-only')));
    expect(unsure.verdict.state).toBe('doubtful');
    expect(unsure.hint).toMatch(/width and height as sliced/);
    expect(check.search.references.map(({ kind }) => kind)).toEqual(['id1-card']);
    expect(check.search.missing).toEqual([]);
  });

  test('of 49 megapixels is looked at in a quarter of them, and told in its own px', async () => {
    const bytes = await altered('white-card', (picture) => picture.resize(8064, 8064, { fit: 'inside' }));
    const check = checked(await checkPhoto(bytes, recordAsTold('white-card')));
    expect(check.verdict).toEqual({ state: 'will-do' });
    const whole = checked(await checkPhoto(photoBytes('white-card'), recordAsTold('white-card')));
    expect(check.photo.heightPx).toBe(8064);
    const times = 8064 / whole.photo.heightPx;
    const truth = photoTruth('white-card').face_corners_px_tl_tr_br_bl;
    check.face!.cornersPx.flat().forEach((px, i) => {
      expectClose(px, times * truth.flat()[i]!, { abs: 8, why: '3 px of the photo as it was, enlarged' });
    });
    const pxPerRipple = (one: PhotoCheck) => one.face!.quality.pxPerRipple!;
    expectClose(pxPerRipple(check), times * pxPerRipple(whole), { rel: 0.01, why: 'the same face' });
  });

  test('looked at in a quarter of its megapixels keeps the resolution that was told for all of them', async () => {
    const bytes = await altered('white-card', (picture) => picture.resize(8064, 8064, { fit: 'inside' }));
    const { face } = await checkPhoto(bytes, recordAsTold('white-card'));
    // Source: definition of the inch; what the face itself shows stands for a scanner's resolution.
    const dotsPerInch = 25.4 / face!.mmPerPx.alongWall.value;
    const told = { ...recordAsTold('white-card'), reference: { kind: 'dpi' as const, dotsPerInch } };
    const { scales } = checked(await checkPhoto(bytes, told));
    // Seen 8° off square, the middle of the face is some percent nearer or further than its edges.
    const { perCommanded } = scales.find(({ kind }) => kind === 'dpi')!;
    expectClose(perCommanded.value, 1, { abs: 0.05, why: 'the view is not quite square' });
  });
});

describe('a photo that will not do', () => {
  test.each([
    ['blurred', (picture: Sharp) => picture.blur(24)],
    ['too-coarse', (picture: Sharp) => picture.resize(400, 400, { fit: 'inside' })],
    ['too-dark', (picture: Sharp) => picture.linear(0.12, 0)],
    ['face-cut-off', (picture: Sharp) => picture.extract({ left: 0, top: 0, width: 2600, height: 1850 })],
  ])('is told by the reason for which it would be refused: %s', async (_, change) => {
    const bytes = await altered('red-ruler', change);
    const [check, reading] = [
      checked(await checkPhoto(bytes, recordAsTold('red-ruler'))),
      await measurePhoto(bytes, recordAsTold('red-ruler')),
    ];
    if (reading.proposal.state !== 'refused') throw new Error(`it is ${reading.proposal.state}`);
    expect(check.verdict).toMatchObject({ state: 'will-not-do', reason: reading.proposal.reason });
    expect(check.hint).toBe(reading.proposal.advice);
  });
});

test('from too far away one hint says from how near', async () => {
  const bytes = await altered('white-card', (picture) => picture.resize(1600, 1600, { fit: 'inside' }));
  const check = checked(await checkPhoto(bytes, recordAsTold('white-card')));
  expect(check.verdict).toEqual({ state: 'will-do' });
  expect(check.hint).toMatch(/^Take a new photo from about \d+ cm instead of \d+ cm\.$/);
  expect(check.notes.map(({ code }) => code)).not.toContain('few-px-per-ripple');
});
