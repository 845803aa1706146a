import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { makeLadder } from '../../src/print/ladder.js';
import { horizontalAxis } from '../../src/report/charts/axis.js';
import { foundChart } from '../../src/report/charts/found.js';
import { accelerationPart } from '../../src/report/charts/acceleration.js';
import { faceChart } from '../../src/report/charts/face.js';
import { LAMP_PART_PX, lampPart } from '../../src/report/charts/lamp.js';
import { bandVeil, bestLine } from '../../src/report/charts/heightMarks.js';
import { profileChart } from '../../src/report/charts/profile.js';
import { ruleChart } from '../../src/report/charts/rule.js';
import { crossing, roundTicks, type HeightScale } from '../../src/report/charts/scale.js';
import { spacingChart } from '../../src/report/charts/spacing.js';
import { spectrumChart } from '../../src/report/charts/spectrum.js';
import { SIZES } from '../../src/report/charts/ink.js';
import { textWidth } from '../../src/report/charts/textWidth.js';
import { waistChart } from '../../src/report/charts/waist.js';
import type { Reading } from '../../src/reading/schema.js';
import { element, escapeXml, pathThrough, svgDocument } from '../../src/report/svg.js';
import { expectClose } from '../helpers/closeTo.js';
import {
  heightView,
  proofReading,
  proposedReading,
  spacingOnlyReading,
  TINY_FACE_URI,
  unseenReading,
} from './fixtures.js';
import { expectGolden } from './golden.js';

const SCALE: HeightScale = { bottomMm: 0, topMm: 64, topY: 40, bottomY: 424 };
const MARKS = { bestHeightMm: 31.09, cleanBandMm: { low: 29.9, high: 32.3 } };
const LADDER = makeLadder(proposedReading().printRecord.ladder, 0.2, 0.2);
const STEPS = makeLadder(
  { kind: 'stepped', bands: [8, 16, 24].map((mm) => ({ fromMm: mm, toMm: mm + 8, hz: 20 + mm })) },
  0.2,
  0.2,
);

function alone(width: number, height: number, body: string): string {
  return svgDocument(width, height, body, { title: 'Golden', description: 'Invented data.' });
}

/** All values of an attribute, in order. */
function attribute(svg: string, name: string): number[] {
  return [...svg.matchAll(new RegExp(` ${name}="([^"]*)"`, 'g'))].map((match) => Number(match[1]));
}

/** Points of the first path of a class. */
function pathPoints(svg: string, className: string): (readonly [number, number])[] {
  const d = new RegExp(`class="${className}" d="([^"]*)"`).exec(svg)?.[1] ?? '';
  return [...d.matchAll(/[ML]([\d.-]+) ([\d.-]+)/g)].map(
    (match) => [Number(match[1]), Number(match[2])] as const,
  );
}

describe('what the charts look like', () => {
  const { heights } = proposedReading();
  const column = { left: 60, width: 200 };

  test('face', () => {
    const face = { dataUri: TINY_FACE_URI, widthMm: 84, mirrored: true, marks: [MARKS], penLineMm: 32.6 };
    expectGolden('face', alone(640, 460, faceChart(face, SCALE, { left: 60, width: 504 })));
  });

  test('waist', () => {
    expectGolden('waist', alone(320, 460, waistChart(heights, SCALE, column)));
    expectGolden('waist-unsigned', alone(320, 460, waistChart(spacingOnlyReading().heights, SCALE, column)));
  });

  test('rule', () => {
    const rule = { layerHeightMm: 0.2, firstLayerHeightMm: 0.2 };
    expectGolden(
      'rule',
      alone(320, 460, ruleChart({ ...rule, ladder: LADDER, bestHeightsMm: [31.09] }, SCALE, column)),
    );
    expectGolden('rule-steps', alone(320, 460, ruleChart({ ...rule, ladder: STEPS }, SCALE, column)));
  });

  test('acceleration', () => {
    const { proposal } = proofReading();
    if (proposal.state !== 'proof') throw new Error('it is a proof');
    const { svg, heightPx } = accelerationPart(proposal, { left: 20, top: 20, width: 600 });
    expectGolden('acceleration', alone(640, heightPx + 40, svg));
    const steps = {
      layerHeightMm: 0.2,
      firstLayerHeightMm: 0.2,
      ladder: LADDER,
      accelerations: proposal.steps,
    };
    expectGolden('rule-accelerations', alone(320, 460, ruleChart(steps, SCALE, column)));
  });

  test('lamp', () => {
    const { svg, heightPx } = lampPart({ left: 20, top: 20 });
    expectGolden('lamp', alone(LAMP_PART_PX.width + 40, heightPx + 40, svg));
  });

  test('spacing', () => {
    const data = { speedMmPerS: 110, heights, expectedMm: 2.686 };
    expectGolden('spacing', alone(320, 460, spacingChart(data, SCALE, column)));
  });

  test('profile and spectrum', () => {
    const { profile, spectrum } = heightView(2.8, 0.021);
    const frame = { left: 60, top: 40, width: 500, height: 112 };
    expectGolden('profile', alone(600, 200, profileChart(profile, frame, 0.016)));
    expectGolden('spectrum', alone(600, 200, spectrumChart(spectrum, frame, { hz: 100, amplitude: 0.01 })));
  });
});

describe('one height has one y', () => {
  test('in every chart', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: 200, noNaN: true }),
        fc.double({ min: 20, max: 300, noNaN: true }),
        fc.double({ min: 0.1, max: 0.9, noNaN: true }),
        (bottomMm, tallMm, share) => {
          const scale = { bottomMm, topMm: bottomMm + tallMm, topY: 50, bottomY: 450 };
          const heightMm = bottomMm + share * tallMm;
          const column = { left: 10, width: 150 };
          const row = {
            heightMm,
            amplitude: { value: 0.01, sd: 0.001 },
            signedAmplitude: 0.01,
            fittedAmplitude: 0.01,
            spacingMm: { value: 2.7, sd: 0.1 },
            significant: true,
          };
          const marks = { bestHeightMm: heightMm, cleanBandMm: { low: heightMm, high: scale.topMm } };
          const face = { dataUri: TINY_FACE_URI, widthMm: 80, mirrored: false, penLineMm: heightMm };
          const bands = [{ fromMm: heightMm, toMm: scale.topMm + 1, hz: 30 }];
          const rule = ruleChart(
            {
              layerHeightMm: tallMm,
              firstLayerHeightMm: tallMm,
              ladder: makeLadder({ kind: 'stepped', bands }, 0.2, 0.2),
            },
            scale,
            column,
          );
          const laneTick = /M110 ([\d.]+)L160 /.exec(rule);
          const ys = [
            ...attribute(faceChart(face, scale, column), 'y1'),
            ...attribute(bestLine(marks, scale, column), 'y1'),
            attribute(bandVeil(marks, scale, column), 'y')[0]! +
              attribute(bandVeil(marks, scale, column), 'height')[0]!,
            ...attribute(spacingChart({ speedMmPerS: 110, heights: [row] }, scale, column), 'cy'),
            ...pathPoints(waistChart([row], scale, column), 'fitted').map(([, y]) => y),
            ...pathPoints(waistChart([row], scale, column), 'noise').map(([, y]) => y),
            Number(laneTick?.[1]),
          ];
          expect(ys.length).toBe(2 + 2 + 1 + 1 + 2 + 2 + 1);
          // Source: closed form of a straight scale.
          expectClose(
            ys,
            ys.map(() => 450 - 400 * share),
            { abs: 0.011, why: 'two decimals, once added' },
          );
        },
      ),
    );
  });
});

describe('waist', () => {
  const column = { left: 0, width: 200 };
  const row = (heightMm: number, signedAmplitude: number) => ({
    heightMm,
    amplitude: { value: Math.abs(signedAmplitude), sd: 0.001 },
    signedAmplitude,
  });
  const dark = (svg: string) => [
    ...(/d="([^"]*)" fill="#5b6a7e"/.exec(svg)?.[1] ?? '').matchAll(/[ML]([\d.]+) ([\d.]+)/g),
  ];

  test('the dark tone changes sides where the sign does', () => {
    const svg = waistChart([row(10, -0.02), row(20, -0.01), row(40, 0.01), row(50, 0.02)], SCALE, column);
    const sides = dark(svg).map((match) => Math.sign(Number(match[1]) - 100));
    expect(sides).toEqual([0, -1, -1, 1, 1, 0]);
  });

  test('the axis has a tick beside zero, however strong the ripples are', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.001, max: 2, noNaN: true }),
        fc.integer({ min: 120, max: 400 }),
        (largest, width) => {
          const row = { heightMm: 20, amplitude: { value: largest, sd: 0 } };
          const svg = waistChart([row], SCALE, { left: 0, width });
          const told = [...svg.matchAll(/>([\d.]+)[^\d<]*<\/text>/g)].map(([, text]) => Number(text));
          expect(told).toContain(0);
          expect(Math.max(...told)).toBeGreaterThan(0);
        },
      ),
    );
  });

  test('is the same on both sides', () => {
    const points = pathPoints(waistChart(proposedReading().heights, SCALE, column), 'noise');
    const right = points.slice(0, points.length / 2);
    const left = points.slice(points.length / 2).reverse();
    expectClose(
      left.map(([x]) => 100 - x),
      right.map(([x]) => x - 100),
      { abs: 0.011, why: 'two decimals each' },
    );
  });
});

describe('spacing', () => {
  const chart = (values: readonly (readonly [number, boolean])[]) =>
    spacingChart(
      {
        speedMmPerS: 110,
        expectedMm: 2.7,
        heights: values.map(([value, significant], i) => ({
          heightMm: 5 + i,
          spacingMm: { value, sd: 0.05 },
          significant,
        })),
      },
      SCALE,
      { left: 0, width: 200 },
    );

  test('the axis above is print speed over the one below', () => {
    // Source: definition, f = v / spacing; two labelled ticks of each axis fix its scale.
    const svg = spacingChart({ speedMmPerS: 100, heights: [], expectedMm: 2.5 }, SCALE, {
      left: 0,
      width: 600,
    });
    const at = (label: string) => Number(new RegExp(` x="([\\d.]+)"[^>]*>${label}<`).exec(svg)?.[1]);
    const pxPerMm = (at('3.0') - at('2.0')) / 1;
    expectClose(at('50'), at('2.0'), { abs: 0.02, why: '100 / 50 = 2.0, two decimals' });
    expectClose(at('40'), at('2.0') + 0.5 * pxPerMm, { abs: 0.02, why: '100 / 40 = 2.5, two decimals' });
  });

  test('full dots are significant, hollow ones are not', () => {
    const fills = [
      ...chart([
        [2.7, true],
        [2.6, false],
      ]).matchAll(/<circle[^>]* fill="([^"]*)"/g),
    ].map((match) => match[1]);
    expect(new Set(fills).size).toBe(2);
  });

  test('one stray dot becomes a wedge and does not squeeze the others', () => {
    const usual = Array.from({ length: 40 }, (_, i) => [2.7 + 0.01 * (i % 3), true] as const);
    expect(attribute(chart(usual), 'cx').length).toBe(40);
    const withStray = chart([...usual, [0.9, true]]);
    expect(attribute(withStray, 'cx')).toEqual(attribute(chart(usual), 'cx'));
  });
});

describe('lamp', () => {
  const left = 30;
  const top = 50;
  const { svg, heightPx } = lampPart({ left, top });
  const [fromAbove = '', fromCamera = ''] = svg
    .slice(svg.indexOf('class="from-above"'))
    .split('class="from-camera"');
  const lampIn = (view: string, kind: 'right' | 'wrong') => {
    const found = new RegExp(`class="${kind}" cx="([\\d.]+)" cy="([\\d.]+)"`).exec(view);
    return [Number(found?.[1]), Number(found?.[2])] as const;
  };
  const wall = /class="wall"[^>]*/.exec(fromAbove)?.[0] ?? '';
  const [x1, x2, y] = (['x1', 'x2', 'y1'] as const).map((name) => attribute(wall, name)[0]!) as [
    number,
    number,
    number,
  ];
  /** Degrees from the face's normal, which points down, and distance in widths of the face. */
  const polar = ([px, py]: readonly [number, number]) => {
    const [dx, dy] = [px - (x1 + x2) / 2, py - y];
    return { deg: (Math.atan2(dx, dy) * 180) / Math.PI, faceWidths: Math.hypot(dx, dy) / (x2 - x1) };
  };
  const why = 'two decimals of a px, over 44 px or more';

  // Source: closed form of polar coordinates; the angles and the distance are the README's (common practice, no source).
  test('stands five face widths away, in the middle of a wedge from 60 to 75°', () => {
    const right = polar(lampIn(fromAbove, 'right'));
    expectClose([right.deg, right.faceWidths], [67.5, 5], { abs: 0.02, why });
    const [apex, ...arc] = pathPoints(fromAbove, 'wedge');
    expect(apex).toEqual([(x1 + x2) / 2, y]);
    const ends = [arc[0]!, arc.at(-1)!].map(polar);
    expectClose(
      ends.flatMap(({ deg, faceWidths }) => [deg, faceWidths]),
      [60, 5, 75, 5],
      { abs: 0.02, why },
    );
    const ticks = pathPoints(fromAbove, 'widths');
    const middles = ticks.flatMap(([ax, ay], i) => {
      const [bx, by] = ticks[i + 1] ?? [ax, ay];
      return i % 2 === 0 ? [polar([(ax + bx) / 2, (ay + by) / 2]).faceWidths] : [];
    });
    expectClose(middles, [1, 2, 3, 4, 5], { abs: 0.02, why });
  });

  test('its rays come from it, graze the wall at 15 to 30° and end on the face', () => {
    const [lampX, lampY] = lampIn(fromAbove, 'right');
    const rays = [...fromAbove.matchAll(/class="ray"[^>]*/g)].map(([ray]) => {
      const [rx1, ry1, rx2, ry2] = ['x1', 'y1', 'x2', 'y2'].map((name) => attribute(ray, name)[0]!);
      return [rx1!, ry1!, rx2!, ry2!] as const;
    });
    expect(rays.length).toBe(2);
    for (const [rx1, ry1, rx2, ry2] of rays) {
      // On one line with the lamp, and goes on to the face.
      const slope = (ry2 - ry1) / (rx2 - rx1);
      expectClose(ry1 + slope * (lampX - rx1), lampY, { abs: 0.05, why: 'two decimals, carried on' });
      const meets = rx2 + (y + attribute(wall, 'stroke-width')[0]! / 2 - ry2) / slope;
      expect(meets).toBeGreaterThan(x1);
      expect(meets).toBeLessThan(x2);
      const offWallDeg = (Math.atan2(ry1 - ry2, rx1 - rx2) * 180) / Math.PI;
      expect(offWallDeg).toBeGreaterThan(15);
      expect(offWallDeg).toBeLessThan(30);
    }
  });

  test('is level with the tower as the camera sees it; the crossed-out ones are in front and above', () => {
    const tower = /<rect [^>]*/.exec(fromCamera)?.[0] ?? '';
    const [towerX, towerY, width, height] = ['x', 'y', 'width', 'height'].map(
      (name) => attribute(tower, name)[0]!,
    );
    const right = lampIn(fromCamera, 'right');
    expect(right[1]).toBe(towerY! + height! / 2);
    expect(right[0]).toBeGreaterThan(towerX! + width!);
    const [aboveX, aboveY] = lampIn(fromCamera, 'wrong');
    expect(aboveY).toBeLessThan(towerY!);
    expect(Math.abs(aboveX - towerX! - width! / 2)).toBeLessThan(width! / 2);
    // Less than 15° from straight in front: beside the camera.
    expect(Math.abs(polar(lampIn(fromAbove, 'wrong')).deg)).toBeLessThan(15);
  });

  test('no colour alone tells the right lamp from a wrong one', () => {
    const grey = svg.replaceAll(/#[0-9a-f]{6}/g, '#000000');
    // Two of each: the right one shines with eight lines, a wrong one has two that cross.
    const lines = (kind: string) =>
      [...grey.matchAll(new RegExp(`class="${kind}"[^>]*/><path d="([^"]*)"`, 'g'))].map(
        ([, d = '']) => d.split('M').length - 1,
      );
    expect(lines('right')).toEqual([8, 8]);
    expect(lines('wrong')).toEqual([2, 2]);
  });

  test('all text lies inside the part, in sizes that the other charts have', () => {
    const texts = [...svg.matchAll(/<text ([^>]*)>([^<]*)<\/text>/g)];
    expect(texts.length).toBeGreaterThan(10);
    for (const [, attributes = '', text = ''] of texts) {
      const size = attribute(`<t ${attributes}>`, 'font-size')[0]!;
      expect(Object.values(SIZES) as number[]).toContain(size);
      const width = textWidth(text, size, attributes.includes('bold'));
      const share = { start: 0, middle: 0.5, end: 1 }[
        /text-anchor="(\w+)"/.exec(attributes)?.[1] ?? 'start'
      ]!;
      const x = attribute(`<t ${attributes}>`, 'x')[0]! - share * width;
      const baseline = attribute(`<t ${attributes}>`, 'y')[0]!;
      expect(x, text).toBeGreaterThanOrEqual(left);
      expect(x + width, text).toBeLessThanOrEqual(left + LAMP_PART_PX.width);
      expect(baseline - 0.8 * size, text).toBeGreaterThanOrEqual(top);
      expect(baseline + 0.25 * size, text).toBeLessThanOrEqual(top + heightPx);
    }
  });
});

describe('rule', () => {
  const words = (svg: string) => [...svg.matchAll(/>([^<>]+)<\/text>/g)].map((match) => match[1]);
  const rule = (ladder: Parameters<typeof makeLadder>[0], bestHeightsMm?: readonly number[]) =>
    ruleChart(
      { layerHeightMm: 0.2, firstLayerHeightMm: 0.2, ladder: makeLadder(ladder, 0.2, 0.2), bestHeightsMm },
      SCALE,
      { left: 0, width: 150 },
    );

  test('where the shaper was off there is no Hz', () => {
    expect(words(rule({ kind: 'off' }))).toContain('off');
    expect(words(rule({ kind: 'off' })).filter((word) => word === 'Hz').length).toBe(1);
    const from20 = rule({ kind: 'linear', fromHz: 20, toHz: 60, fromMm: 20, toMm: 60 });
    expect(words(from20)).toContain('off');
    // Two blanks: 0 to 20 mm and 60 to 64 mm, at 6 px per mm; half a layer beyond the ends still has a frequency.
    const tall = [...from20.matchAll(/ height="([\d.]+)" fill="#f6f5f0"/g)].map((match) => Number(match[1]));
    expectClose(tall, [20 * 6, 4 * 6], { abs: 1.3, why: 'one layer of 0.2 mm at 6 px per mm' });
  });

  test('reads off the best height on all three faces', () => {
    // Source: a linear ladder by its two ends, 20 + 40 · (30 − 20) / 40 = 30 Hz; layer k fills [0.2 k, 0.2 (k + 1)).
    expect(words(rule({ kind: 'linear', fromHz: 20, toHz: 60, fromMm: 20, toMm: 60 }, [30.02]))).toEqual(
      expect.arrayContaining(['30.0', '150']),
    );
  });

  test('a falling ladder and a fixed one', () => {
    const falling = rule({ kind: 'linear', fromHz: 60, toHz: 20, fromMm: 0, toMm: 64 });
    const y = (text: string) =>
      Number(
        new RegExp(` y="([\\d.]+)"[^>]*>${text}</text>`).exec(falling.slice(falling.indexOf('>layer<')))?.[1],
      );
    expect(y('30')).toBeLessThan(y('50'));
    expect(words(rule({ kind: 'fixed', hz: 42.5 }))).toContain('42.5');
  });
});

describe('profile and spectrum', () => {
  const frame = { left: 0, top: 0, width: 400, height: 100 };

  test('a gap in the profile stays a gap', () => {
    const { profile } = heightView(2.8, 0.021);
    const d = /class="measured" d="([^"]*)"/.exec(profileChart(profile, frame, 0.02))?.[1] ?? '';
    expect(d.split('M').length - 1).toBe(2);
  });

  test('lists of different length are refused', () => {
    const { profile } = heightView(2.8, 0.021);
    expect(() => profileChart({ ...profile, fitted: [0, 1] }, frame, 0.02)).toThrow(/equal length/);
  });

  test('the peak is marked where it is, or said to be beyond the scale or missing', () => {
    const { spectrum } = heightView(2.8, 0.021);
    const [tip] = pathPoints(spectrumChart(spectrum, frame, { hz: 100, amplitude: 0.01 }), 'peak');
    expectClose(tip![0], 4 * spectrum.peakHz.value, { abs: 0.01, why: '4 px per Hz, two decimals' });
    expect(spectrumChart(spectrum, frame, { hz: 30, amplitude: 0.01 })).toMatch(/beyond this scale/);
    expect(spectrumChart({ ...spectrum, significant: false }, frame, { hz: 100, amplitude: 0.01 })).toMatch(
      /nothing stands out/,
    );
  });
});

describe('scales and axes', () => {
  test('round ticks are 1, 2 or 5 times a power of ten, not too many, inside', () => {
    fc.assert(
      fc.property(
        fc.double({ min: -1000, max: 1000, noNaN: true }),
        fc.double({ min: 1e-3, max: 1e4, noNaN: true }),
        fc.integer({ min: 2, max: 20 }),
        (low, span, most) => {
          const { values, digits } = roundTicks(low, low + span, most);
          expect(values.length).toBeLessThanOrEqual(most + 1);
          expect(values.length).toBeGreaterThan(most / 2.5 - 2);
          for (const value of values) {
            expect(value).toBeGreaterThanOrEqual(low - 1e-6 * span);
            expect(value).toBeLessThanOrEqual(low + span * (1 + 1e-6));
            expect(Math.abs(Number(value.toFixed(digits)) - value)).toBeLessThan(1e-6 * span);
          }
        },
      ),
    );
  });

  test('a crossing is found between its neighbours', () => {
    const curve = [
      [0, 0],
      [10, 5],
      [20, 25],
    ] as const;
    expect(crossing(curve, 15)).toBe(15);
    expect(crossing(curve, 5)).toBe(10);
    expect(crossing(curve, 26)).toBeUndefined();
  });

  test('no label of the spectrum stands out over its right end, the edge of the picture', () => {
    const { spectrum } = heightView(2.8, 0.021);
    const frame = { left: 60, top: 40, width: 400, height: 112 };
    // The first scale ends with a tick, the second a little beyond one.
    for (const hz of [100, 103]) {
      const labels = [
        ...spectrumChart(spectrum, frame, { hz, amplitude: 0.01 }).matchAll(
          / x="([\d.]+)"[^>]* text-anchor="middle">([^<]+)</g,
        ),
      ].map(([, x, text]) => ({ text, end: Number(x) + textWidth(text!, SIZES.label) / 2 }));
      expect(labels.at(-1)!.text).toBe('100\u2009Hz');
      for (const { end, text } of labels) expect(end, text).toBeLessThanOrEqual(460.01);
    }
  });

  test('a label that would touch the one before is left out, its tick stays', () => {
    const svg = horizontalAxis(
      [
        { at: 50, text: '100' },
        { at: 55, text: '101' },
        { at: 90, text: '102' },
      ],
      [0, 100],
      10,
      'below',
    );
    expect([...svg.matchAll(/>(\d+)<\/text>/g)].map((match) => match[1])).toEqual(['100', '102']);
    expect(svg.split('M').length - 1).toBe(1 + 3);
  });
});

describe('likeliest faces', () => {
  const box = (left: number, top: number, side: number): Guess['cornersPx'] => [
    [left, top],
    [left + side, top],
    [left + side, top + side],
    [left, top + side],
  ];
  type Guess = Reading['search']['guesses'][number];
  const drawn = (guesses: readonly Guess[]) => {
    const reading = unseenReading();
    const place = { left: 40, top: 40, width: 1200 };
    const withGuesses = { ...reading, search: { ...reading.search, guesses: [...guesses] } };
    return foundChart(withGuesses, { dataUri: TINY_FACE_URI }, [], place).svg;
  };
  /** Places of the numbers. */
  const numbers = (svg: string) =>
    [...svg.matchAll(/<text ([^>]*)>(\d)<\/text>/g)].map(([, attributes = '', text]) => ({
      text,
      x: attribute(`<t ${attributes}>`, 'x')[0]!,
      y: attribute(`<t ${attributes}>`, 'y')[0]!,
    }));

  test('numbers of faces that cover one another stand apart', () => {
    const found = numbers(
      drawn([0.5, 0.3, 0.1].map((confidence, i) => ({ cornersPx: box(900 + 9 * i, 700, 1500), confidence }))),
    );
    expect(new Set(found.map(({ text }) => text))).toEqual(new Set(['1', '2', '3']));
    for (const a of found) {
      for (const b of found) {
        // A digit is 18 px high: lines of text stand further apart than that (common practice, no source).
        if (a.text !== b.text) expect(Math.hypot(a.x - b.x, a.y - b.y)).toBeGreaterThan(20);
      }
    }
  });

  test('one below 2 % is not drawn', () => {
    const cornersPx = box(900, 700, 1500);
    expect(numbers(drawn([{ cornersPx, confidence: 0.021 }])).length).toBeGreaterThan(0);
    expect(numbers(drawn([{ cornersPx, confidence: 0.019 }]))).toEqual([]);
  });
});

describe('svg', () => {
  test('markup in a text stays text', () => {
    expect(escapeXml('a < b & "c" > d')).toBe('a &lt; b &amp; &quot;c&quot; &gt; d');
    expect(escapeXml('bell\u0007, half a pair \ud800, whole \u{1F5A8}')).toBe(
      'bell, half a pair , whole \u{1F5A8}',
    );
    expect(element('g', { class: 'a"b', id: undefined })).toBe('<g class="a&quot;b"/>');
  });

  test('numbers have two decimals and are finite', () => {
    expect(element('rect', { x: 1 / 3, y: -0.001 })).toBe('<rect x="0.33" y="0"/>');
    expect(
      pathThrough(
        [
          [0, 1],
          [2, 3],
        ],
        true,
      ),
    ).toBe('M0 1L2 3Z');
    expect(() => element('rect', { x: NaN })).toThrow(/finite coordinate but received NaN/);
    expect(() => pathThrough([[0, Infinity]])).toThrow(RangeError);
  });
});
