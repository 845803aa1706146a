import { describe, expect, test } from 'vitest';
import type { HeatRow } from '../../src/core/heatRow.js';
import { heatColour } from '../../src/report/charts/heatColours.js';
import { heatChart } from '../../src/report/charts/heatMap.js';
import { heatRaster } from '../../src/report/heatRaster.js';
import { TINY_FACE_URI } from './fixtures.js';
import { expectGolden } from './golden.js';

/** CIE L* of sRGB codes: IEC 61966-2-1 and CIE 15 (from memory). */
function lightness(codes: readonly number[]): number {
  const [red = 0, green = 0, blue = 0] = codes.map((code) => {
    const share = code / 255;
    return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
  });
  return 116 * Math.cbrt(0.2126 * red + 0.7152 * green + 0.0722 * blue) - 16;
}

describe('heatColour', () => {
  const steps = Array.from({ length: 41 }, (_, i) => heatColour(i / 20 - 1));

  test('climbs in lightness all the way, alike on both sides, so that a grey print shows the same', () => {
    const light = steps.map(lightness);
    for (const [i, value] of light.entries()) if (i > 0) expect(value).toBeGreaterThan(light[i - 1]!);
    const [low, middle, high] = [light[0]!, light[20]!, light[40]!];
    expect(Math.abs(high - middle - (middle - low)) / (high - low)).toBeLessThan(0.1);
  });

  test('is blue on one side and amber on the other, grey between: no red beside green', () => {
    const [low, middle, high] = [steps[0]!, steps[20]!, steps[40]!];
    expect(low[2]).toBeGreaterThan(low[0] + 40);
    expect(high[0]).toBeGreaterThan(high[2] + 40);
    expect(Math.max(...middle) - Math.min(...middle)).toBeLessThan(12);
  });

  test('stays at its ends beyond them', () => {
    expect(heatColour(-7)).toEqual(heatColour(-1));
    expect(heatColour(7)).toEqual(heatColour(1));
  });
});

/** Bright where x is beyond the middle, in the upper half only; a slot from 40 to 50 mm was not read. */
function rows(): readonly HeatRow[] {
  return Array.from({ length: 60 }, (_, i) => {
    const positionsMm = Array.from({ length: 640 }, (_, k) => (k + 0.5) / 8).filter((x) => x < 40 || x > 50);
    const sign = i >= 30 ? 1 : -1;
    return {
      heightMm: i + 0.5,
      positionsMm,
      contrast: positionsMm.map((x) => (x > 50 ? sign * 0.02 : -sign * 0.02)),
    };
  });
}

describe('heatRaster', () => {
  const raster = heatRaster(rows(), { bottomMm: 0, topMm: 60, widthMm: 80 })!;
  const at = (xMm: number, yMm: number) => {
    const column = Math.floor((xMm / 80) * raster.widthPx);
    const row = Math.floor((1 - yMm / 60) * raster.heightPx);
    return Array.from(raster.data.subarray(4 * (row * raster.widthPx + column)).subarray(0, 4));
  };

  test('puts each contrast at its height and distance', () => {
    expect(raster.limit).toBeCloseTo(0.02, 12);
    expect(at(70, 50)).toEqual([...heatColour(1), 255]);
    expect(at(20, 50)).toEqual([...heatColour(-1), 255]);
    expect(at(70, 10)).toEqual([...heatColour(-1), 255]);
    expect(at(20, 10)).toEqual([...heatColour(1), 255]);
  });

  test('leaves open what was not read', () => {
    expect(at(45, 10)[3]).toBe(0);
    const few = heatRaster(
      rows().filter(({ heightMm }) => heightMm < 20 || heightMm > 25),
      {
        bottomMm: 0,
        topMm: 60,
        widthMm: 80,
      },
    )!;
    const row = Math.floor((1 - 22.5 / 60) * few.heightPx);
    expect(few.data[4 * (row * few.widthPx + 10) + 3]).toBe(0);
  });

  test('has no gaps between samples', () => {
    for (let column = 0; column < raster.widthPx; column += 1) {
      const x = ((column + 0.5) / raster.widthPx) * 80;
      if (x < 39.5 || x > 50.5) expect(at(x, 30.2)[3], String(x)).toBe(255);
    }
  });

  test('is nothing where nothing was read', () => {
    expect(heatRaster([], { bottomMm: 0, topMm: 60, widthMm: 80 })).toBeUndefined();
  });
});

test('the chart is as it was looked at', () => {
  const scale = { bottomMm: 0, topMm: 64, topY: 30, bottomY: 230 };
  const marks = [{ bestHeightMm: 31.1, cleanBandMm: { low: 29.9, high: 32.3 } }];
  const data = { dataUri: TINY_FACE_URI, widthMm: 84, limit: 0.021 };
  expectGolden('heat-map', heatChart(data, scale, { left: 20, width: 160 }, marks));
});
