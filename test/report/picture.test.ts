import fc from 'fast-check';
import { readFileSync } from 'node:fs';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import { renderPng } from '../../src/imaging/encode.js';
import { REFUSAL_REASONS, type RefusalReason } from '../../src/core/outcome.js';
import { readingSchema, type Reading } from '../../src/reading/schema.js';
import { textWidth } from '../../src/report/charts/textWidth.js';
import { drawPicture, type PictureData } from '../../src/report/picture.js';
import {
  bareRefusal,
  pictureData,
  proposedReading,
  refusedReading,
  movedReading,
  proofReading,
  quietProofReading,
  spacingOnlyReading,
  twoLadderReading,
  TINY_FACE_URI,
  unseenPicture,
  unseenReading,
} from './fixtures.js';

const BARE: PictureData = { faceDataUri: TINY_FACE_URI };
const STRONGEST: PictureData = { ...BARE, strongest: pictureData().strongest! };

function refusedFor(reading: Reading, reason: RefusalReason): Reading {
  const advice = 'Take a new photo in other light.';
  return { ...reading, proposal: { state: 'refused', reason, advice } };
}

/** The photo takes another room then, and leaves another to what stands beside it. */
function withPhoto(reading: Reading, widthPx: number, heightPx: number): Reading {
  return { ...reading, photos: reading.photos.map((photo) => ({ ...photo, widthPx, heightPx })) };
}

const BESIDE_PHOTO: PictureData = { ...STRONGEST, found: pictureData().found! };

function withFace(reading: Reading, face: Partial<NonNullable<Reading['face']>>): Reading {
  return { ...reading, face: { ...reading.face!, ...face } };
}

const READINGS: readonly (readonly [string, Reading, PictureData])[] = [
  ['proposed', proposedReading(), pictureData()],
  ['two ladders', twoLadderReading(), pictureData()],
  ['refused', refusedReading(), STRONGEST],
  ['refused at the door', bareRefusal(), BARE],
  ['spacing only', spacingOnlyReading(), STRONGEST],
  ['moved since', movedReading(), STRONGEST],
  ['proof', proofReading(), STRONGEST],
  ['quiet proof', quietProofReading(), BARE],
  ['no face found', unseenReading(), unseenPicture()],
  ['refused for its light', refusedFor(refusedReading(), 'light-from-front'), BESIDE_PHOTO],
  ['refused for its light, drawn without the photo', refusedFor(refusedReading(), 'no-ringing'), STRONGEST],
  ['too dark', refusedFor(unseenReading(), 'too-dark'), unseenPicture()],
  ['too dark, wide photo', withPhoto(refusedFor(unseenReading(), 'too-dark'), 4000, 900), unseenPicture()],
  ['too noisy, tall photo', withPhoto(refusedFor(refusedReading(), 'too-noisy'), 3000, 4000), BESIDE_PHOTO],
  ['mirrored', withFace(proposedReading(), { mirrored: true }), pictureData()],
  ['lower edge below the bed', withFace(proposedReading(), { bottomMm: -0.02 }), pictureData()],
  ['narrow face', withFace(proposedReading(), { widthMm: 8 }), pictureData()],
  ['wide face', withFace(proposedReading(), { widthMm: 400, mirrored: true }), pictureData()],
  ['tall face', withFace(proposedReading(), { heightMm: 300 }), pictureData()],
  [
    'best height at the top, pen line at the bottom',
    {
      ...proposedReading(),
      penLine: {
        source: 'calipers',
        heightMm: { value: 1.2, sd: 0.3, low95: 0.6, high95: 1.8 },
        others: [],
        verdict: { code: 'no-opinion', because: 'off-ladder' },
      },
      proposal: {
        ...(proposedReading().proposal as Extract<Reading['proposal'], { state: 'proposed' }>),
        bestHeightMm: { value: 63.2, sd: 0.2, low95: 62.8, high95: 63.6 },
        cleanBandMm: { low: 61.8, high: 65.1, mostLeft: 0.05 },
      },
    },
    pictureData(),
  ],
];

interface Box {
  readonly text: string;
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
}

function unescape(text: string): string {
  return text
    .replaceAll('&lt;', '<')
    .replaceAll('&gt;', '>')
    .replaceAll('&quot;', '"')
    .replaceAll('&amp;', '&');
}

/** Where each text stands, by the estimate of its width. */
function boxes(svg: string): Box[] {
  return [...svg.matchAll(/<text ([^>]*)>([^<]*)<\/text>/g)].map(([, attributes = '', escaped = '']) => {
    const read = (name: string) => new RegExp(`(?:^| )${name}="([^"]*)"`).exec(attributes)?.[1];
    const size = Number(read('font-size'));
    const text = unescape(escaped);
    // The estimate is up to 12 % above the ink; here it may not be.
    const width = textWidth(text, size, read('font-weight') === 'bold') / 1.04;
    const x = Number(read('x'));
    const left = x - { start: 0, middle: width / 2, end: width }[read('text-anchor') ?? 'start']!;
    const y = Number(read('y'));
    return { text, left, right: left + width, top: y - 0.74 * size, bottom: y + 0.1 * size };
  });
}

describe.each(READINGS)('picture of a reading: %s', (_, reading, picture) => {
  const svg = drawPicture(reading, picture);

  test('the reading is one', () => {
    expect(readingSchema.safeParse(reading).success).toBe(true);
  });

  test('says no NaN', () => {
    expect(svg).not.toMatch(/NaN|undefined|Infinity|\bnull\b/);
  });

  test('no text is cut off or covers another', () => {
    const all = boxes(svg);
    const height = Number(/ height="([\d.]+)" viewBox/.exec(svg)?.[1]);
    for (const box of all) {
      expect(box.left, box.text).toBeGreaterThanOrEqual(20);
      expect(box.right, box.text).toBeLessThanOrEqual(1280 - 8);
      expect(box.bottom, box.text).toBeLessThanOrEqual(height - 8);
    }
    for (const [i, a] of all.entries()) {
      for (const b of all.slice(i + 1)) {
        const apart = a.right <= b.left || b.right <= a.left || a.bottom <= b.top || b.bottom <= a.top;
        expect(apart, `"${a.text}" and "${b.text}"`).toBe(true);
      }
    }
  });

  test('no text is smaller than 11 px', () => {
    const sizes = [...svg.matchAll(/font-size="([\d.]+)"/g)].map((match) => Number(match[1]));
    expect(Math.min(...sizes)).toBeGreaterThanOrEqual(11);
  });

  test('comes in the order of reading, verdict first and largest', () => {
    const texts = boxes(svg).sort((a, b) => a.top - b.top);
    expect(texts[0]?.text).toMatch(/^Axis Y: /);
    const top = (word: string) => texts.find(({ text }) => text === word)?.top ?? Infinity;
    if (reading.face === undefined) expect(top('Photo')).toBeLessThan(top('Next'));
    else expect(top('Face')).toBeLessThan(top('Next'));
    expect(top('Waist')).toBe(top('Spacing'));
    if (picture.strongest !== undefined) expect(top('Strongest ripples')).toBeGreaterThan(top('Face'));
  });

  test('has a title and a description for a screen reader', () => {
    expect(svg).toMatch(/<title id="title">Axis Y, /);
    expect(svg).toMatch(/<desc id="desc">[^<]{20,}<\/desc>/);
  });
});

describe('where the lamp belongs', () => {
  const drawn = (reading: Reading, picture: PictureData) =>
    drawPicture(reading, picture).split('<g class="lamp">').length - 1;

  test('is drawn once for the refusals that are about light, and for no other', () => {
    const withLamp = (picture: PictureData) =>
      REFUSAL_REASONS.filter((reason) => drawn(refusedFor(bareRefusal(), reason), picture) === 1);
    const aboutLight = ['too-dark', 'glare', 'no-ringing', 'too-noisy', 'light-from-front'];
    expect(withLamp(BESIDE_PHOTO)).toEqual(aboutLight);
    expect(withLamp(BARE)).toEqual(aboutLight);
    for (const make of [proposedReading, spacingOnlyReading, proofReading, quietProofReading]) {
      expect(drawn(make(), BESIDE_PHOTO)).toBe(0);
    }
  });

  test('is told to a screen reader where it is drawn', () => {
    const told = (reason: RefusalReason) =>
      /<desc id="desc">([^<]*)/.exec(drawPicture(refusedFor(bareRefusal(), reason), BESIDE_PHOTO))?.[1];
    expect(told('no-ringing')).toMatch(/60 to 75° from straight in front.*level with the tower.*crossed out/);
    expect(told('blurred')).not.toMatch(/crossed out/);
  });

  test('makes the picture no higher where there is room beside the photo', () => {
    const height = (reason: RefusalReason) =>
      Number(
        / height="([\d.]+)" viewBox/.exec(
          drawPicture(refusedFor(unseenReading(), reason), unseenPicture()),
        )?.[1],
      );
    expect(height('too-dark')).toBe(height('too-coarse'));
  });
});

/** The same without some of its optional fields. */
function without<T extends object>(whole: T, keys: readonly (keyof T)[]): T {
  return Object.fromEntries(Object.entries(whole).filter(([key]) => !keys.includes(key as keyof T))) as T;
}

describe('what may be missing', () => {
  const optional = ['ringing', 'nullFit', 'penLine'] as const;
  const perHeight = [
    'ladderHz',
    'spacingMm',
    'frequencyHz',
    'amplitude',
    'signedAmplitude',
    'fittedAmplitude',
    'noise',
  ] as const;
  const perRecord = ['machine', 'title', 'printedOn', 'material', 'layers', 'firstLayerHeightMm'] as const;

  test('any of it, in any combination', () => {
    fc.assert(
      fc.property(
        fc.subarray([...optional]),
        fc.subarray([...perRecord]),
        fc.array(fc.subarray([...perHeight]), { maxLength: 12 }),
        fc.subarray(['strongest', 'best'] as const),
        fc.constantFrom(proposedReading, refusedReading, spacingOnlyReading, bareRefusal),
        (parts, fields, heights, views, make) => {
          const whole = make();
          const reading = {
            ...without(whole, parts),
            printRecord: without(whole.printRecord, fields),
            heights: heights.flatMap((missing, i) =>
              whole.heights.slice(i, i + 1).map((height) => without(height, missing)),
            ),
          };
          const picture = without(pictureData(), views);
          const svg = drawPicture(reading, picture);
          expect(svg).not.toMatch(/NaN|undefined|Infinity|\bnull\b/);
          expect(svg).toMatch(/^<svg .*<\/svg>$/s);
        },
      ),
      { numRuns: 60 },
    );
  });

  test('a flat profile and an empty spectrum', () => {
    const flat = {
      positionsMm: [2, 3, 4],
      timeS: [0.02, 0.03, 0.04],
      measured: [0, 0, 0],
      fitted: [0, 0, 0],
    };
    const spectrum = {
      binHz: 1,
      amplitude: [],
      peakHz: { value: 0, sd: 0 },
      peakAmplitude: 0,
      noiseFloor: 0,
      significant: false,
    };
    const svg = drawPicture(proposedReading(), { ...BARE, best: { heightMm: 31, profile: flat, spectrum } });
    expect(svg).not.toMatch(/NaN|undefined|Infinity/);
  });

  test('foreign words cannot break out of the document', () => {
    const reading = proposedReading();
    reading.printRecord.machine = '<script>&"\u0000';
    const svg = drawPicture(reading, BARE);
    expect(svg).toContain('&lt;script&gt;&amp;&quot;');
    expect(svg).not.toContain('<script');
  });
});

describe('colour is never the only sign', () => {
  test('ink and accent reach WCAG 2.2 contrast against the paper', () => {
    // Source: WCAG 2.2, relative luminance and contrast ratio, criterion 1.4.3 (4.5 to 1 for text).
    const colour = (name: string) =>
      new RegExp(`${name} = '(#[0-9a-f]{6})'`).exec(
        readFileSync(new URL('../../src/report/charts/ink.ts', import.meta.url), 'utf8'),
      )?.[1] ?? '';
    const luminance = (hex: string) => {
      const [r, g, b] = [1, 3, 5].map((i) => {
        const code = parseInt(hex.slice(i, i + 2), 16) / 255;
        return code <= 0.04045 ? code / 12.92 : ((code + 0.055) / 1.055) ** 2.4;
      }) as [number, number, number];
      return 0.2126 * r + 0.7152 * g + 0.0722 * b;
    };
    const ratio = (a: string, b: string) => {
      const [low, high] = [luminance(a), luminance(b)].sort((x, y) => x - y) as [number, number];
      return (high + 0.05) / (low + 0.05);
    };
    for (const name of ['INK', 'SOFT_INK', 'ACCENT']) {
      expect(ratio(colour(name), colour('PAPER')), name).toBeGreaterThanOrEqual(4.5);
    }
    // The waist's two tones differ in lightness, as WCAG 2.2, 1.4.11, asks of graphics (3 to 1).
    expect(ratio(colour('DARK_TONE'), colour('LIGHT_TONE'))).toBeGreaterThanOrEqual(3);
  });
});

describe('as PNG', () => {
  test('every line of text leaves ink, with no font of the system', async () => {
    const svg = drawPicture(proposedReading(), pictureData());
    const silent = svg.replaceAll(/<text [^>]*>[^<]*<\/text>/g, '');
    const draw = async (document: string) =>
      sharp(await renderPng(document))
        .toColourspace('b-w')
        .raw()
        .toBuffer({ resolveWithObject: true });
    const [said, unsaid] = [await draw(svg), await draw(silent)];
    expect(said.info.width).toBe(1280);
    for (const box of boxes(svg)) {
      let ink = 0;
      for (let y = Math.floor(box.top); y < box.bottom; y += 1) {
        for (let x = Math.floor(box.left); x < box.right; x += 1) {
          const at = y * 1280 + x;
          if (Math.abs(said.data[at]! - unsaid.data[at]!) > 20) ink += 1;
        }
      }
      expect(ink, box.text).toBeGreaterThan(3 * box.text.replaceAll(/\s/g, '').length);
    }
  });
});
