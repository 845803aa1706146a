import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import type { CornersPx } from '../../src/core/image.js';
import { drawReading } from '../../src/drawReading.js';
import { measureForPicture, measurePhoto } from '../../src/measurePhoto.js';
import type { PrintRecord } from '../../src/print/record.js';
import type { Reading } from '../../src/reading/schema.js';
import { expectClose } from '../helpers/closeTo.js';
import {
  measured,
  photoBytes,
  photoRecord,
  photoTruth,
  PHOTO_NAMES,
  type PhotoName,
} from '../helpers/measured.js';

// Source of every expected value here: the truth files of the ray tracer (testimages/README.md). The photographs are
// simulated prints; none of this says how well real ones are read.

const WITH_NULL = PHOTO_NAMES.filter((name) => photoTruth(name).null !== null);
const MUST_BE_PROPOSED = WITH_NULL.filter((name) => name !== 'silver-face-only');

const readingOf = async (name: PhotoName): Promise<Reading> => (await measured(name)).reading;

/** What the tool would have to say of each photograph that shows a null, if it proposes anything. */
function expectTheNull({ proposal }: Reading, name: PhotoName): void {
  if (proposal.state !== 'proposed') throw new Error(`${name} is ${proposal.state}`);
  const truth = photoTruth(name).null!;
  expectClose(proposal.frequencyHz.value, truth.best_fs_hz, { abs: 1, why: 'issue 3' });
  expect(proposal.frequencyHz.low95).toBeLessThan(truth.best_fs_hz);
  expect(proposal.frequencyHz.high95).toBeGreaterThan(truth.best_fs_hz);
  expect(proposal.bestHeightMm.low95).toBeLessThan(truth.height_mm);
  expect(proposal.bestHeightMm.high95).toBeGreaterThan(truth.height_mm);
  expect(proposal.cleanBandMm.low).toBeLessThan(proposal.bestHeightMm.value);
  expect(proposal.cleanBandMm.high).toBeGreaterThan(proposal.bestHeightMm.value);
  expect(proposal.cleanBandMm.low).toBeLessThan(truth.height_mm);
  expect(proposal.cleanBandMm.high).toBeGreaterThan(truth.height_mm);
}

describe('the null', () => {
  test('there are five photographs that show one', () => {
    expect(WITH_NULL).toHaveLength(5);
  });

  test.each(MUST_BE_PROPOSED)('%s: within 1 Hz, and inside the intervals', async (name) => {
    expectTheNull(await readingOf(name), name);
  });

  test('silver-face-only: likewise, or refused because its light is poor', async () => {
    const reading = await readingOf('silver-face-only');
    if (reading.proposal.state === 'refused') {
      expect(['too-uncertain', 'too-noisy', 'no-reversal', 'one-sided']).toContain(reading.proposal.reason);
    } else expectTheNull(reading, 'silver-face-only');
  });

  test.each(MUST_BE_PROPOSED)(
    '%s: the proposal belongs to the axis of the record, and says so',
    async (name) => {
      const { proposal, printRecord } = await readingOf(name);
      expect(proposal).toMatchObject({ state: 'proposed', axis: printRecord.axis });
    },
  );
});

describe('the spacing', () => {
  test.each(PHOTO_NAMES)('%s: within 3 %', async (name) => {
    const { spacingCheck, ringing } = await readingOf(name);
    const truth = photoTruth(name);
    expectClose(spacingCheck.spacingMm!.value, truth.wavelength_mm, { rel: 0.03, why: 'issue 3' });
    expectClose(spacingCheck.frequencyHz!.value, truth.f_d_hz, { rel: 0.03, why: 'issue 3' });
    expect(ringing!.frequencyHz.value).toBe(spacingCheck.frequencyHz!.value);
    // The truth lies within three standard uncertainties of each.
    expect(Math.abs(spacingCheck.spacingMm!.value - truth.wavelength_mm)).toBeLessThan(
      3 * spacingCheck.spacingMm!.sd,
    );
  });

  test.each(PHOTO_NAMES)('%s: the damping ratio inside its interval', async (name) => {
    const { value, sd } = (await readingOf(name)).ringing!.dampingRatio;
    expect(Math.abs(value - photoTruth(name).zeta)).toBeLessThan(1.96 * sd);
  });

  test.each(MUST_BE_PROPOSED)('%s: agrees with the null', async (name) => {
    expect((await readingOf(name)).spacingCheck.state).toBe('agrees');
  });
});

describe('the shaper off (blue-markers)', () => {
  test('has no band, and says why', async () => {
    const { proposal, spacingCheck, heights } = await readingOf('blue-markers');
    expect(proposal).toMatchObject({ state: 'refused', reason: 'ladder-has-no-range' });
    expect(spacingCheck.state).toBe('not-measurable');
    expect(heights.every((height) => height.ladderHz === undefined)).toBe(true);
  });

  test('its frequency by spacing, when that is asked for', async () => {
    const reading = await measurePhoto(photoBytes('blue-markers'), photoRecord('blue-markers'), {
      spacingOnly: true,
    });
    const { f_d_hz: truth } = photoTruth('blue-markers');
    if (reading.proposal.state !== 'spacing-only') throw new Error(`it is ${reading.proposal.state}`);
    const { value, low95, high95 } = reading.proposal.frequencyHz;
    expectClose(value, truth, { rel: 0.03, why: 'issue 3' });
    expect(low95 < truth && truth < high95).toBe(true);
    expect(reading.warnings.map(({ code }) => code)).not.toContain('ends-look-swapped');
  });
});

/** The record of a photo whose user holds it upside down: what is the top of the photo is the foot of the tower. */
function upsideDown(record: ReturnType<typeof photoRecord>): PrintRecord {
  const [tl, tr, br, bl] = record.facePx;
  return { ...otherEnd(record), facePx: [br, bl, tl, tr] satisfies CornersPx };
}

function otherEnd(record: PrintRecord): PrintRecord {
  const leadingCorner = record.face.leadingCorner === 'left' ? 'right' : 'left';
  return { ...record, face: { ...record.face, leadingCorner } };
}

describe('what is told wrongly', () => {
  test.each(MUST_BE_PROPOSED)(
    '%s: a face told 10 %% too low, or one of whose edges is clicked 5 mm off',
    async (name) => {
      const record = photoRecord(name);
      const heightMm = 0.9 * record.face.heightMm!;
      const [tl, tr, br, bl] = record.facePx;
      const offPx = (5 * (tr[0] - tl[0])) / record.face.widthMm!;
      const lowered: CornersPx = [[tl[0], tl[1] + offPx], [tr[0], tr[1] + offPx], br, bl];
      for (const wrong of [
        { ...record, face: { ...record.face, heightMm } },
        { ...record, facePx: lowered },
      ] as PrintRecord[]) {
        const { proposal } = await measurePhoto(photoBytes(name), wrong);
        expect(proposal).toMatchObject({ state: 'refused', reason: 'scales-disagree' });
      }
    },
  );

  // A null near the middle of the ladder looks the same upside down within what the speed is known to: there
  // the shape of the amplitudes over the height gives it away.
  test.each([
    ['red-ruler', 'spacing-disagrees'],
    ['orange-card-set-back', 'spacing-disagrees'],
    ['silver-face-only', 'spacing-disagrees'],
    ['white-card', 'ladder-reversed'],
    ['black-markers', 'ladder-reversed'],
  ] as const)('%s upside down: the ladder runs the wrong way', async (name, reason) => {
    const { proposal, spacingCheck } = await measurePhoto(photoBytes(name), upsideDown(photoRecord(name)));
    expect(proposal).toMatchObject({ state: 'refused', reason });
    if (reason === 'spacing-disagrees') expect(spacingCheck.explanation?.cause).toBe('reversed-ladder');
    if (proposal.state === 'refused') expect(proposal.advice).toMatch(/stands upright/);
    // The ripples themselves are the same.
    const truth = photoTruth(name).wavelength_mm;
    expectClose(spacingCheck.spacingMm!.value, truth, { rel: 0.03, why: 'issue 3' });
  });

  test.each(PHOTO_NAMES)(
    '%s with the leading corner at the wrong end: refused or warned about',
    async (name) => {
      const reading = await measurePhoto(photoBytes(name), otherEnd(photoRecord(name)));
      const warned = reading.warnings.some(({ code }) => code === 'ends-look-swapped');
      expect(reading.proposal.state === 'refused' || warned).toBe(true);
      // As it should be told, nothing of the kind is said.
      expect((await readingOf(name)).warnings.map(({ code }) => code)).not.toContain('ends-look-swapped');
    },
  );

  test.each([
    ['half the speed', 0.5],
    ['a quarter faster', 1.25],
  ])('white-card with %s: the spacing check says which speed would fit', async (_, factor) => {
    const record = photoRecord('white-card');
    const { proposal, spacingCheck } = await measurePhoto(photoBytes('white-card'), {
      ...record,
      speedMmPerS: factor * record.speedMmPerS,
    });
    expect(proposal.state).toBe('refused');
    const implied = spacingCheck.explanation!.impliedSpeedMmPerS;
    expectClose(implied, record.speedMmPerS, { rel: 0.1, why: 'null within 10 %' });
  });
});

describe('the pen line', () => {
  test.each(PHOTO_NAMES)('%s: found where it was drawn, and nowhere else', async (name) => {
    const { penLine } = await readingOf(name);
    const truth = photoTruth(name).pen_line;
    expect(penLine === undefined).toBe(truth === null);
    if (penLine === undefined || truth === null) return;
    // Source: the ray tracer's own record.
    expectClose(penLine.heightMm.value, truth.height_mm, { abs: 0.3, why: 'issue 8' });
    expectClose(penLine.widthMm!, truth.width_mm, {
      abs: 0.3,
      why: 'slices of a layer, 0.2 mm, at both sides',
    });
    expect([penLine.source, penLine.others]).toEqual(['photo', []]);
    expect(Math.abs(penLine.slantDeg!)).toBeLessThan(0.5);
    const { ladder, layerHeightMm } = photoRecord(name);
    if (ladder.kind !== 'linear') throw new Error('expected a linear ladder');
    // Source: closed form, straight through the layers' centres (DESIGN 3).
    const { fromHz, toHz, firstLayer = NaN, lastLayer = NaN } = ladder;
    const climb = (toHz - fromHz) / (lastLayer - firstLayer);
    const truthHz = fromHz + climb * (truth.height_mm / layerHeightMm - 0.5 - firstLayer);
    expectClose(penLine.frequencyHz!.value, truthHz, { abs: 0.3, why: 'issue 8' });
  });

  test('its frequency is that of the ladder there', async () => {
    const { penLine } = await readingOf('black-markers');
    // Source: closed form, 20 to 70 Hz over layers 3 to 349 of 0.2 mm through layer centres (DESIGN 3).
    const hz = (heightMm: number) => 20 + (50 * (heightMm / 0.2 - 0.5 - 3)) / 346;
    expectClose(penLine!.frequencyHz!.value, hz(penLine!.heightMm.value), { abs: 1e-9, why: 'rounding' });
  });
});

describe('the same photo, the same numbers', () => {
  test('two runs are byte-identical, picture included', async () => {
    const first = await measured('white-card');
    const second = await measureForPicture(photoBytes('white-card'), photoRecord('white-card'));
    expect(JSON.stringify(second.reading)).toBe(JSON.stringify(first.reading));
    expect(await drawReading(second)).toBe(await drawReading(first));
  });

  test.each(['white-card', 'silver-face-only'] as const)(
    '%s stored upright as PNG: lossless, so every number is the same',
    async (name) => {
      const png = await sharp(photoBytes(name)).autoOrient().png({ compressionLevel: 1 }).toBuffer();
      const first = await readingOf(name);
      const again = await measurePhoto(png, photoRecord(name));
      expect(again.photos[0]!.format).toBe('png');
      // The new file has no EXIF, so no focal length, no pose, and shape and references are known less well; all else
      // stays.
      const numbers = (reading: Reading) => {
        const { pose, shape, ...face } = reading.face!;
        const rest = JSON.stringify({ ...reading, photos: [], scales: [], search: [], face });
        return { pose, shapeSd: shape!.aspect!.sd, rest };
      };
      expect(numbers(first).pose).toBeDefined();
      expect(numbers(again).pose).toBeUndefined();
      expect(numbers(again).shapeSd).toBeGreaterThan(numbers(first).shapeSd);
      expect(numbers(again).rest).toBe(numbers(first).rest);
    },
  );

  test('white-card as WebP, coded with loss: within a tenth of what is uncertain anyhow', async () => {
    const webp = await sharp(photoBytes('white-card'))
      .autoOrient()
      .webp({ quality: 90, effort: 0 })
      .toBuffer();
    const first = (await readingOf('white-card')).proposal;
    const again = (await measurePhoto(webp, photoRecord('white-card'))).proposal;
    if (first.state !== 'proposed' || again.state !== 'proposed') throw new Error('both must be proposed');
    const tenth = {
      abs: 0.1 * (first.frequencyHz.high95 - first.frequencyHz.value),
      why: 'quality 90 of 100',
    };
    expectClose(again.frequencyHz.value, first.frequencyHz.value, tenth);
    expectClose(again.fromSpacing.value, first.fromSpacing.value, tenth);
    expectClose(again.bestHeightMm.value, first.bestHeightMm.value, {
      abs: 0.1 * (first.bestHeightMm.high95 - first.bestHeightMm.value),
      why: 'quality 90 of 100',
    });
  });
});

describe('an acceleration that is mistyped', () => {
  test.each(PHOTO_NAMES)('%s: a digit lost is refused, by spacing only as well', async (name) => {
    const record = photoRecord(name);
    const accelerationMmPerS2 = Math.round(record.accelerationMmPerS2! / 10);
    for (const spacingOnly of [false, true]) {
      const told = { ...record, accelerationMmPerS2 };
      const { proposal } = await measurePhoto(photoBytes(name), told, { spacingOnly });
      expect(proposal.state).toBe('refused');
    }
  });
  test('one that hides in the ramp that is left out does no harm', async () => {
    const record = photoRecord('white-card');
    const { proposal } = await measurePhoto(photoBytes('white-card'), {
      ...record,
      accelerationMmPerS2: 12_000,
    });
    if (proposal.state !== 'proposed') throw new Error('expected a proposal');
    expectClose(proposal.frequencyHz.value, photoTruth('white-card').null!.best_fs_hz, {
      abs: 1,
      why: 'issue 3',
    });
  });
});
