import type { Random } from '../random.js';
import { anyColour, printed, type Block } from './materials.js';
import type { NoiseTile } from './noiseTile.js';
import { boxSolid, piece, type Thing } from './objects.js';
import type { Rgb } from './surface.js';
import type { Frame } from './vector.js';

/** A reference object in its own plane: x to the right, y up from its lower left corner, mm. */
export interface ReferenceObject {
  readonly kind: 'id1-card' | 'ruler' | 'marker-card';
  readonly widthMm: number;
  readonly heightMm: number;
  /** Known points: where they are (y up), and where a reading of the object puts them (y down, as it is held upright). */
  readonly points: readonly {
    readonly at: readonly [number, number];
    readonly mm: readonly [number, number];
  }[];
  /** Round its edge, y up. */
  readonly outline: readonly (readonly [number, number])[];
  readonly brightest: number;
  readonly build: (frame: Frame) => Thing;
}

/** ISO/IEC 7810 ID-1: 85.60 × 53.98 mm, corner radius 3.18 mm (DESIGN §3). */
const CARD_MM = { long: 85.6, short: 53.98, radius: 3.18 };
const THICKNESS_MM = 0.76;

/**
 * A card with something printed on it.
 * @param random - Where chance comes from.
 * @param standing - Its long side is upright.
 * @param tile - Noise of its surface.
 */
export function idCard(random: Random, standing: boolean, tile: NoiseTile): ReferenceObject {
  const [w, h] = standing ? [CARD_MM.short, CARD_MM.long] : [CARD_MM.long, CARD_MM.short];
  const base = random.chance(0.3) ? grey(random.even(0.5, 0.85)) : anyColour(random);
  const blocks: Block[] = [];
  if (random.chance(0.3)) {
    const ink = anyColour(random);
    const from = random.even(0.1, 0.6) * h;
    blocks.push({ left: 0, right: w, bottom: from, top: from + random.even(6, 14), rgb: ink });
  }
  if (random.chance(0.4)) {
    const [x, y] = [random.even(6, 14), h * random.even(0.45, 0.6)];
    blocks.push({ left: x, right: x + 12, bottom: y, top: y + 10, rgb: [0.6, 0.5, 0.25] });
  }
  if (random.chance(0.6)) blocks.push(...textLines(random, [6, 6, w - 6, h * 0.4], inkOn(base)));
  const material = printed(base, blocks, 0.015, tile);
  const r = CARD_MM.radius;
  const inside = (u: number, v: number) => {
    const dx = Math.max(0, r - u, u - (w - r));
    const dy = Math.max(0, r - v, v - (h - r));
    return dx * dx + dy * dy <= r * r;
  };
  const corners: readonly (readonly [number, number])[] = [
    [0, h],
    [w, h],
    [w, 0],
    [0, 0],
  ];
  return {
    kind: 'id1-card',
    widthMm: w,
    heightMm: h,
    points: corners.map((at) => ({ at, mm: [at[0], h - at[1]] })),
    outline: corners.flatMap(([x, y]) => {
      const [cx, cy] = [Math.max(r, Math.min(w - r, x)), Math.max(r, Math.min(h - r, y))];
      const start = Math.atan2(y - cy, x - cx) + Math.PI / 4;
      return Array.from({ length: 5 }, (_, i): readonly [number, number] => {
        const angle = start - (i * Math.PI) / 8;
        return [cx + r * Math.cos(angle), cy + r * Math.sin(angle)];
      });
    }),
    brightest: Math.max(...base),
    build: (frame) => ({
      surfaces: [{ ...piece(frame, [0, 0, 0], 'x', 'y', [w, h], material), inside }],
      solids: [boxSolid(frame, [w, h, THICKNESS_MM])],
    }),
  };
}

/**
 * Bits of ArUco DICT_4X4_50, ids 0 to 3, white = 1, by rows. From memory; held against the cards of
 * testimages/black-markers.jpg and blue-markers.jpg by a test.
 */
export const MARKER_BITS: readonly (readonly string[])[] = [
  ['1011', '0101', '0011', '0010'],
  ['0000', '1111', '1001', '1010'],
  ['0011', '0011', '0010', '1101'],
  ['1001', '1001', '0100', '0110'],
];
const MARKER_MM = 18;
const CELL_MM = MARKER_MM / 6;
/** Between the markers' centres: ids 0 to 3 clockwise from the top left. */
const CENTRES_MM = { x: 70, y: 35 };

/**
 * The printable marker card.
 * @param random - Where chance comes from.
 * @param tile - Noise of the paper.
 */
export function markerCard(random: Random, tile: NoiseTile): ReferenceObject {
  const [w, h] = [random.even(96, 104), random.even(60, 70)];
  const [ink, paper] = [grey(random.even(0.02, 0.06)), grey(random.even(0.75, 0.9))];
  const blocks: Block[] = [];
  const points: ReferenceObject['points'][number][] = [];
  MARKER_BITS.forEach((rows, id) => {
    const [right, low] = [id === 1 || id === 2, id >= 2];
    const left = w / 2 + (right ? 0.5 : -0.5) * CENTRES_MM.x - MARKER_MM / 2;
    const bottom = h / 2 + (low ? -0.5 : 0.5) * CENTRES_MM.y - MARKER_MM / 2;
    const top = bottom + MARKER_MM;
    blocks.push({ left, bottom, right: left + MARKER_MM, top, rgb: ink });
    rows.forEach((bits, row) => {
      for (let column = 0; column < bits.length; column += 1) {
        if (bits.charAt(column) !== '1') continue;
        const x = left + (column + 1) * CELL_MM;
        const y = top - (row + 1) * CELL_MM;
        blocks.push({ left: x, right: x + CELL_MM, top: y, bottom: y - CELL_MM, rgb: paper });
      }
    });
    for (const [x, y] of [
      [left, top],
      [left + MARKER_MM, top],
      [left + MARKER_MM, bottom],
      [left, bottom],
    ] as const) {
      points.push({ at: [x, y], mm: [x, h - y] });
    }
  });
  const material = printed(paper, blocks, 0.01, tile);
  return {
    kind: 'marker-card',
    widthMm: w,
    heightMm: h,
    points,
    outline: [
      [0, h],
      [w, h],
      [w, 0],
      [0, 0],
    ],
    brightest: Math.max(...paper),
    build: (frame) => ({
      surfaces: [piece(frame, [0, 0, 0], 'x', 'y', [w, h], material)],
      solids: [boxSolid(frame, [w, h, THICKNESS_MM])],
    }),
  };
}

/** Digits of 3 × 5 cells, rows from the top. */
const DIGIT_ROWS: readonly string[] = [
  '111101101101111',
  '010110010010111',
  '111001111100111',
  '111001111001111',
  '101101111001001',
  '111100111001111',
  '111100111101111',
  '111001010010010',
  '111101111101111',
  '111101111001111',
];

/**
 * A steel ruler whose marks begin at its end. It stands or lies: u is along it where it lies.
 * @param random - Where chance comes from.
 * @param tile - Noise of the steel.
 */
export function ruler(random: Random, tile: NoiseTile): ReferenceObject {
  const lengthMm = random.pick([150, 150, 200, 300]);
  const breadthMm = random.even(15, 30);
  const finest = random.chance(0.35) ? 0.5 : 1;
  const steel = grey(random.even(0.3, 0.6));
  const ink = grey(random.even(0.01, 0.05));
  const marksRight = random.chance(0.5);
  const across = (from: number, to: number) =>
    marksRight ? { left: breadthMm - to, right: breadthMm - from } : { left: from, right: to };
  const widthMm = random.even(0.13, 0.22);
  const blocks: Block[] = [];
  for (let i = 1; i * finest < lengthMm - 1; i += 1) {
    const at = i * finest;
    const long = at % 10 === 0 ? 8.5 : at % 5 === 0 ? 6.5 : at % 1 === 0 ? 4.5 : 3;
    blocks.push({
      ...across(0, long),
      bottom: at - widthMm / 2,
      top: at + widthMm / 2,
      rgb: ink,
      fine: true,
    });
    if (at % 10 === 0) blocks.push(...number(at, marksRight ? breadthMm - 14.5 : 9, at, ink));
  }
  const material = printed(steel, blocks, 0.03, tile);
  const edge = marksRight ? breadthMm : 0;
  return {
    kind: 'ruler',
    widthMm: breadthMm,
    heightMm: lengthMm,
    points: Array.from({ length: Math.floor((lengthMm - 1) / 10) }, (_, i) => ({
      at: [edge, 10 * (i + 1)] as const,
      mm: [0, 10 * (i + 1)] as const,
    })),
    outline: [
      [0, lengthMm],
      [breadthMm, lengthMm],
      [breadthMm, 0],
      [0, 0],
    ],
    brightest: steel[0],
    build: (frame) => ({
      surfaces: [piece(frame, [0, 0, 0], 'x', 'y', [breadthMm, lengthMm], material)],
      solids: [boxSolid(frame, [breadthMm, lengthMm, THICKNESS_MM])],
    }),
  };
}

function number(value: number, left: number, middle: number, rgb: Rgb): Block[] {
  const cell = 0.45;
  return Array.from(String(value)).flatMap((digit, place) =>
    Array.from(DIGIT_ROWS[Number(digit)]!).flatMap((bit, i): Block[] => {
      if (bit === '0') return [];
      const x = left + place * 4 * cell + (i % 3) * cell;
      const y = middle + 2.5 * cell - Math.floor(i / 3) * cell;
      return [{ left: x, right: x + cell, top: y, bottom: y - cell, rgb, fine: true }];
    }),
  );
}

/** Rows of short strokes that look like print from afar. */
function textLines(
  random: Random,
  [left, bottom, right, top]: readonly [number, number, number, number],
  rgb: Rgb,
): Block[] {
  const blocks: Block[] = [];
  for (let y = top; y > bottom; y -= 5) {
    for (let x = left; x < right - 4;) {
      const width = random.even(0.8, 4);
      if (random.chance(0.75))
        blocks.push({ left: x, right: x + width, bottom: y - 2.2, top: y, rgb, fine: true });
      x += width + random.even(0.5, 1.5);
    }
  }
  return blocks;
}

function inkOn(base: Rgb): Rgb {
  return Math.max(...base) > 0.3 ? [0.04, 0.04, 0.05] : [0.75, 0.75, 0.75];
}

function grey(value: number): Rgb {
  return [value, value, value];
}
