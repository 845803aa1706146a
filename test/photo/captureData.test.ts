import sharp, { type Sharp } from 'sharp';
import { describe, expect, test } from 'vitest';
import { readCaptureData } from '../../src/photo/captureData.js';
import { inspectPhoto } from '../../src/photo/decode.js';
import { photoBytes, photoTruth, PHOTO_NAMES } from '../helpers/measured.js';

type Exif = Parameters<Sharp['withExif']>[0];

const plain = () => sharp({ create: { width: 32, height: 24, channels: 3, background: '#808080' } }).jpeg();
const photo = (exif: Exif) => plain().withExif(exif).toBuffer();
const captureOf = async (exif: Exif) => (await inspectPhoto(await photo(exif))).capture;

describe('capture data', () => {
  test.each(PHOTO_NAMES)('%s: time and focal length', async (name) => {
    const { capture } = await inspectPhoto(photoBytes(name));
    // Source: truth file of the ray tracer.
    expect(capture.focalLength35Mm).toBe(photoTruth(name).camera.f35_mm);
    expect(capture.focalLengthMm).toBeGreaterThan(1);
    expect(capture.takenAt).toMatch(/^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d$/);
  });

  test("the time is the camera's own, whatever the machine's zone is", async () => {
    const capture = await captureOf({
      IFD2: { DateTimeOriginal: '2026:03:14 18:02:11', FocalLength: '51/10', FocalLengthIn35mmFilm: '26' },
    });
    // Source: what was written.
    expect(capture).toEqual({ takenAt: '2026-03-14T18:02:11', focalLengthMm: 5.1, focalLength35Mm: 26 });
  });

  test('a digital zoom counts where it was used', async () => {
    const zoomOf = async (DigitalZoomRatio: string) =>
      (await captureOf({ IFD2: { DigitalZoomRatio } })).digitalZoom;
    // Source: CIPA DC-008 (Exif 2.3), 0 where it was not used (from memory).
    expect([await zoomOf('0/1'), await zoomOf('1/1'), await zoomOf('25/10')]).toEqual([
      undefined,
      undefined,
      2.5,
    ]);
  });

  test('nothing of the position is read', async () => {
    const bytes = await photo({
      IFD0: { Make: 'Bench', Copyright: 'A. Person' },
      IFD2: { FocalLengthIn35mmFilm: '26' },
      IFD3: {
        GPSLatitudeRef: 'S',
        GPSLatitude: '12/1 34/1 5678/100',
        GPSLongitudeRef: 'E',
        GPSLongitude: '98/1 7/1 6543/100',
        GPSAltitude: '4321/1',
      },
    });
    // The photo does hold it: the test would prove nothing otherwise.
    expect((await sharp(bytes).metadata()).exif?.includes('E\0')).toBe(true);
    const info = await inspectPhoto(bytes);
    expect(info.capture).toEqual({ focalLength35Mm: 26 });
    expect(JSON.stringify(info)).not.toMatch(/gps|lat|lon|alt|\b12\b|56\.78|65\.43|4321|Person|Bench/i);
  });

  test('a clock that was never set, and lengths that are none, count as absent', async () => {
    // Source: CIPA DC-008 (Exif 2.3), unknown dates are blanks, unknown focal lengths 0 (from memory).
    for (const DateTimeOriginal of ['0000:00:00 00:00:00', '    :  :     :  :  ', 'yesterday']) {
      expect(
        await captureOf({ IFD2: { DateTimeOriginal, FocalLength: '0/1', FocalLengthIn35mmFilm: '0' } }),
      ).toEqual({});
    }
    expect(await captureOf({ IFD2: { FocalLength: '5/0' } })).toEqual({});
  });

  test('no EXIF and damaged EXIF cost the capture data, never the photo', async () => {
    expect((await inspectPhoto(await plain().toBuffer())).capture).toEqual({});
    expect(readCaptureData(undefined)).toEqual({});
    const bytes = await photo({
      IFD2: { DateTimeOriginal: '2026:03:14 18:02:11', FocalLengthIn35mmFilm: '26' },
    });
    const start = bytes.indexOf('Exif\0\0');
    for (let at = start + 6; at < start + 60; at += 3) {
      const damaged = Buffer.from(bytes).fill(0xff, at, at + 12);
      const info = await inspectPhoto(damaged);
      expect([info.widthPx, info.heightPx]).toEqual([32, 24]);
      for (const value of Object.values(info.capture)) {
        expect(typeof value === 'string' ? value : Number.isFinite(value)).toBeTruthy();
      }
    }
    for (let length = 0; length < 60; length += 1) {
      const exif = bytes.subarray(start, start + length);
      expect(() => readCaptureData(exif)).not.toThrow();
    }
  });
});
