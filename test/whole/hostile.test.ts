import { copyFileSync, readFileSync, symlinkSync } from 'node:fs';
import { join, resolve } from 'node:path';
import sharp from 'sharp';
import { beforeAll, describe, expect, it } from 'vitest';
import { run } from '../../src/cli/run.js';
import { measurePhoto, parsePrintRecord, parseReading } from '../../src/index.js';
import { photoRecord } from '../helpers/measured.js';
import { tempFolder } from '../helpers/tempFolder.js';

const images = resolve(import.meta.dirname, '../../testimages');
const recordOf = (name: string) => parsePrintRecord(readFileSync(join(images, `${name}.print.json`), 'utf8'));
const at = tempFolder('file');

describe('a photo that shows nothing, or something else, is refused in a reading that can be read back', () => {
  const size = { width: 3024, height: 4032, channels: 3 as const };
  it.each([
    ['black', 0],
    ['grey', 120],
    ['white', 255],
  ])('%s all over', async (_name, level) => {
    const background = { r: level, g: level, b: level };
    const bytes = await sharp({ create: { ...size, background } })
      .png()
      .toBuffer();
    const reading = await measurePhoto(bytes, recordOf('white-card'));
    expect(reading.proposal.state).toBe('refused');
    expect(parseReading(JSON.stringify(reading))).toEqual(reading);
  });

  it('a photo at 3 % of its light', async () => {
    const bytes = await sharp(join(images, 'red-ruler.jpg')).linear(0.03, 0).jpeg().toBuffer();
    const reading = await measurePhoto(bytes, recordOf('red-ruler'));
    expect(reading.proposal.state).toBe('refused');
    expect(parseReading(JSON.stringify(reading))).toEqual(reading);
  });

  // Both were proposed at 67 and 50 Hz (truth 42.02) beside a spacing of "20 Hz ± 40" and "40 Hz ± 80".
  it('a dark stripe over the ripples behind the corner', async () => {
    const photo = sharp(join(images, 'orange-card-set-back.jpg')).autoOrient();
    const stripe = { create: { width: 130, height: 1300, channels: 3 as const, background: '#100c0a' } };
    const input = await sharp(stripe).png().toBuffer();
    const bytes = await photo
      .composite([{ input, left: 270, top: 1000 }])
      .jpeg({ quality: 95 })
      .toBuffer();
    const { proposal } = await measurePhoto(bytes, recordOf('orange-card-set-back'));
    const offHz = proposal.state === 'proposed' ? Math.abs(proposal.frequencyHz.value - 42.02) : 0;
    expect(['proposed', 'refused']).toContain(proposal.state);
    expect(offHz).toBeLessThan(1);
  });

  it('corners 60 px outside the face', async () => {
    const record = photoRecord('orange-card-set-back');
    const out = [
      [-60, -60],
      [60, -60],
      [60, 60],
      [-60, 60],
    ] as const;
    const facePx = record.facePx.map(([x, y], i) => [x + out[i]![0], y + out[i]![1]]) as typeof record.facePx;
    const bytes = readFileSync(join(images, 'orange-card-set-back.jpg'));
    const { proposal } = await measurePhoto(bytes, { ...record, facePx });
    expect(proposal.state).toBe('refused');
  });
});

describe('what is read is never written over', () => {
  const photo = () => at('mine.jpg');
  const record = () => at('mine.print.json');
  beforeAll(() => {
    copyFileSync(join(images, 'white-card.jpg'), photo());
    copyFileSync(join(images, 'white-card.print.json'), record());
    symlinkSync(photo(), at('link.jpg'));
  });

  it.each([
    ['the photo', '--png', 'mine.jpg'],
    ['the photo by another way', '--svg', './x/../mine.jpg'],
    ['the photo by a link', '--png', 'link.jpg'],
    ['the record', '--csv', 'mine.print.json'],
  ])('%s', async (_what, flag, target) => {
    let told = '';
    const io = { out: () => undefined, err: (text: string) => (told += text), colour: false };
    const before = [readFileSync(photo()), readFileSync(record())];
    const path = target.includes('x/..') ? resolve(at(), target) : at(target);
    expect(await run(['measure', photo(), '--print', record(), flag, path], io)).toBe(64);
    expect(told).toMatch(/written over .*which is read here/);
    expect([readFileSync(photo()), readFileSync(record())]).toEqual(before);
  });
});

describe('a photo that is burnt out', () => {
  it.each([0.55, 0.6, 0.7])(
    'over %f of the face is refused for that, with a reading that can be read back',
    async (share) => {
      // The light is turned up until so much of the photo is white; what is left of the ripples is cut off.
      const record = photoRecord('white-card');
      const photo = sharp(join(images, 'white-card.jpg')).autoOrient();
      const { width, height } = await photo.metadata();
      const white = {
        create: { width: Math.round(width * share), height, channels: 3 as const, background: '#fff' },
      };
      const input = await sharp(white).png().toBuffer();
      const bytes = await photo
        .composite([{ input, left: 0, top: 0 }])
        .jpeg()
        .toBuffer();
      const reading = await measurePhoto(bytes, record);
      expect(reading.proposal).toMatchObject({ state: 'refused', reason: 'glare' });
      expect(parseReading(JSON.stringify(reading))).toEqual(reading);
    },
  );
});
