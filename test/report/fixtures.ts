import type { PictureData } from '../../src/report/picture.js';
import type { JointReading } from '../../src/reading/jointSchema.js';
import type { Reading } from '../../src/reading/schema.js';

// Invented data, for the look of charts and reports only: nothing that is measured is ever checked with it.

type Height = Reading['heights'][number];

const FACE = { widthMm: 84, heightMm: 64, bottomMm: 0 };
const SPEED_MM_PER_S = 110;
const NULL_HZ = 41.02;
const DAMPING = 0.059;
const DAMPED_HZ = NULL_HZ * Math.sqrt(1 - DAMPING ** 2);

/** Grey of 4 × 3 px as PNG: a face's place is filled, and the golden files stay small. */
export const TINY_FACE_URI =
  'data:image/png;base64,iVBORw0KGgoAAAANSUhEUgAAAAQAAAADCAAAAACRn/EaAAAACXBIWXMAAAPoAAAD6AG1e1JrAAAAFklEQVQI12OYtmrBbIalQJJh2rxFMwA3/wdvAeuDrwAAAABJRU5ErkJggg==';

/** A linear ladder 18 to 66 Hz over layers 4 to 319 of 0.2 mm. */
function ladderHz(heightMm: number): number | undefined {
  const layer = heightMm / 0.2 - 0.5;
  return layer < 4 ? undefined : 18 + ((66 - 18) * (layer - 4)) / (319 - 4);
}

/** Roughly how an undamped two-impulse shaper leaves its ringing: cos(π f / 2 f_s), so it changes sign at f_s = f. */
function residual(hz: number | undefined): number {
  return hz === undefined ? 1 : -Math.cos((Math.PI * NULL_HZ) / (2 * hz));
}

/** Repeatable noise, about −1 to 1, from the fractional part of a large sine. */
function noise(i: number): number {
  const s = Math.sin(i * 12.9898 + 4.1414) * 43758.5453;
  return 2 * (s - Math.floor(s)) - 1;
}

function height(i: number): Height {
  const heightMm = 0.8 + i;
  const hz = ladderHz(heightMm);
  const path = 0.021 * residual(hz) * (1 + 0.002 * (heightMm - 32));
  const signed = path + 0.0011 * noise(i);
  const clear = Math.abs(signed) > 0.0028;
  const frequency = clear
    ? DAMPED_HZ * (1 + (0.0002 * noise(i + 500)) / Math.abs(signed))
    : 41 + 28 * noise(i + 900);
  const frequencySd = (clear ? 0.00012 / Math.abs(signed) : 0.08) * frequency;
  return {
    heightMm,
    layer: Math.floor(heightMm / 0.2),
    ...(hz === undefined ? {} : { ladderHz: hz }),
    spacingMm: { value: SPEED_MM_PER_S / frequency, sd: (SPEED_MM_PER_S * frequencySd) / frequency ** 2 },
    frequencyHz: { value: frequency, sd: frequencySd },
    amplitude: { value: Math.hypot(signed, 0.0007 * noise(i + 70)), sd: 0.0007 },
    ...(hz === undefined ? {} : { signedAmplitude: signed, fittedAmplitude: path }),
    noise: 0.0004,
    significant: clear,
  };
}

function interval(value: number, sd: number) {
  return { value, sd, low95: value - 1.96 * sd, high95: value + 1.96 * sd };
}

/** A reading that proposes a band. */
export function proposedReading(): Reading {
  return {
    schema: 'stillband/reading@1',
    versions: { stillband: '0.1.0' },
    photos: [
      {
        sha256: '5f'.repeat(32),
        bytes: 2_400_000,
        format: 'jpeg',
        widthPx: 4000,
        heightPx: 3000,
        takenAt: '2026-03-14T10:22:05',
      },
    ],
    printRecord: {
      schema: 'stillband/print-record@1',
      machine: 'north bench 3',
      title: 'after new belts',
      printedOn: '2026-03-14',
      material: 'white, satin',
      axis: 'Y',
      speedMmPerS: SPEED_MM_PER_S,
      layerHeightMm: 0.2,
      layers: 320,
      face: { widthMm: 84, heightMm: 64, leadingCorner: 'left' },
      ladder: { kind: 'linear', fromHz: 18, toHz: 66, firstLayer: 4, lastLayer: 319 },
    },
    assumptions: [
      {
        field: 'accelerationMmPerS2',
        value: '6000 mm/s²',
        why: 'not told; only the first 2 mm of the wall depend on it',
      },
      { field: 'shaper.dampingRatio', value: '0.15', why: 'the usual default' },
    ],
    search: {
      how: 'found',
      confidence: 0.98,
      guesses: [],
      references: [
        {
          kind: 'id1-card',
          outlinePx: [
            [640, 2150],
            [2440, 2210],
            [2400, 3350],
            [610, 3230],
          ],
          confidence: 0.97,
          behindFaceMm: 0,
          use: 'scale',
          seemsBehindMm: { value: 1, sd: 2 },
        },
      ],
      missing: [],
    },
    layerLines: { pitchMm: { value: 0.2002, sd: 0.0001 }, pxPerLayer: 4.24, used: true, contrast: 0.04 },
    face: {
      cornersPx: [
        [627.1, 690.3],
        [2418.7, 702.8],
        [2367.7, 2099.7],
        [606.4, 2036.5],
      ],
      cornerSdPx: 1,
      ...FACE,
      sizeSd: { widthMm: 0.3, heightMm: 0.2, bottomMm: 0.16 },
      mirrored: false,
      mmPerPx: { alongWall: { value: 0.0472, sd: 0.0002 }, alongHeight: { value: 0.0472, sd: 0.0002 } },
      pose: { obliquityDeg: 9, distanceMm: { value: 310, sd: 12 } },
      quality: { pxPerLayer: 4.24, pxPerRipple: 56.9 },
    },
    scales: [{ kind: 'face', class: 'commanded', perCommanded: { value: 1, sd: 0.003 } }],
    walls: [{ startMm: 0, endMm: 84, startsAt: 'leading-corner' }],
    heights: Array.from({ length: 62 }, (_, i) => height(i)),
    ringing: {
      frequencyHz: { value: DAMPED_HZ, sd: 0.12 },
      dampingRatio: { value: DAMPING, sd: 0.002 },
      signalToNoise: 46.2,
    },
    fixedPitches: [],
    spacingCheck: {
      state: 'agrees',
      spacingMm: { value: 2.686, sd: 0.009 },
      frequencyHz: { value: DAMPED_HZ, sd: 0.14 },
      expectedNullHz: { value: 40.9, sd: 0.15 },
    },
    nullFit: {
      naturalHz: NULL_HZ,
      dampingRatio: DAMPING,
      nullHz: { value: NULL_HZ, sd: 0.31 },
      turnsOver: true,
      timeOrigin: 0,
      reversalF: 88,
      signalBelow: 31,
      signalAbove: 12,
    },
    budget: [{ cause: 'scatter between rows', type: 'A', nullHz: 0.2, spacingHz: 0.1 }],
    penLine: {
      source: 'photo',
      heightMm: interval(32.6, 0.3),
      frequencyHz: interval(42.3, 0.3),
      widthMm: 0.5,
      slantDeg: -0.6,
      ink: 'dark',
      confidence: 0.998,
      others: [],
      verdict: {
        code: 'worth-changing',
        apartMm: interval(1.51, 0.3),
        apartHz: interval(1.32, 0.36),
        left: { value: 0.052, low95: 0.024, high95: 0.079 },
        leftAtOurs: 0.017,
      },
    },
    proposal: {
      state: 'proposed',
      frequencyHz: interval(40.98, 0.26),
      fromNull: interval(41.02, 0.31),
      fromSpacing: interval(40.9, 0.42),
      combined: interval(40.98, 0.26),
      bestHeightMm: interval(31.09, 0.2),
      cleanBandMm: { low: 29.9, high: 32.3, mostLeft: 0.05 },
      goodFor: 'ZV',
      axis: 'Y',
    },
    warnings: [
      { code: 'clipped-light', text: '1.4 % of the face is at the brightest code: turn the light down.' },
    ],
  };
}

/** A reading of a tower with two ladders, one above the other, both of which have the frequency. */
export function twoLadderReading(): Reading {
  const reading = proposedReading();
  const { proposal } = reading;
  if (proposal.state !== 'proposed') throw new Error('expected a proposal');
  const lower = {
    bestHeightMm: interval(14.66, 0.2),
    cleanBandMm: { low: 13.9, high: 15.4, mostLeft: 0.05 },
  };
  const upper = { bestHeightMm: interval(49.4, 0.4), cleanBandMm: { low: 47.6, high: 51.2, mostLeft: 0.05 } };
  return {
    ...reading,
    printRecord: {
      ...reading.printRecord,
      ladder: {
        kind: 'several',
        ladders: [
          { kind: 'linear', fromHz: 18, toHz: 66, firstLayer: 0, lastLayer: 149 },
          { kind: 'linear', fromHz: 30, toHz: 50, firstLayer: 155, lastLayer: 319 },
        ],
      },
    },
    proposal: { ...proposal, ...lower, bestHeights: [lower, upper] },
  };
}

/** A reading that proposes nothing, though everything was measured. */
export function refusedReading(): Reading {
  const { ...reading } = proposedReading();
  delete reading.penLine;
  return {
    ...reading,
    spacingCheck: { ...reading.spacingCheck, state: 'disagrees' },
    proposal: {
      state: 'refused',
      reason: 'spacing-disagrees',
      advice: 'Check that the speed in the print record is the one at which this face was printed.',
      criterion: { quantity: 'difference of the two routes, Hz', value: 4.1, limit: 1.03 },
    },
  };
}

/** A refusal at the door: nothing but the face is known. */
export function bareRefusal(): Reading {
  const { ...reading } = proposedReading();
  delete reading.penLine;
  delete reading.ringing;
  delete reading.nullFit;
  return {
    ...reading,
    assumptions: [],
    heights: [],
    walls: [],
    budget: [],
    warnings: [],
    spacingCheck: { state: 'not-measurable' },
    proposal: {
      state: 'refused',
      reason: 'too-coarse',
      advice: 'Move closer, so that the face fills the photo: 40 px per ripple are advised.',
      criterion: { quantity: 'px per ripple', value: 9.2, limit: 15 },
    },
  };
}

/** A quick re-check without a ladder. */
export function spacingOnlyReading(): Reading {
  const { ...reading } = proposedReading();
  delete reading.nullFit;
  delete reading.penLine;
  return {
    ...reading,
    printRecord: { ...reading.printRecord, ladder: { kind: 'off' } },
    heights: reading.heights.map((height) => {
      const rest = { ...height };
      delete rest.ladderHz;
      delete rest.signedAmplitude;
      delete rest.fittedAmplitude;
      return { ...rest, amplitude: { value: 0.018 + 0.0001 * height.heightMm, sd: 0.0007 } };
    }),
    spacingCheck: {
      state: 'not-measurable',
      spacingMm: { value: 2.686, sd: 0.009 },
      frequencyHz: { value: DAMPED_HZ, sd: 0.14 },
    },
    proposal: { state: 'spacing-only', frequencyHz: interval(DAMPED_HZ, 0.14), axis: 'Y' },
  };
}

/** A re-check that is held against an earlier frequency. */
export function movedReading(): Reading {
  const since = {
    wasHz: { value: 43.6, sd: 0.2 },
    wasExact: false,
    changeHz: interval(DAMPED_HZ - 43.6, 0.27),
    moved: true,
    withinZv: 0.004,
  };
  return {
    ...spacingOnlyReading(),
    proposal: { state: 'spacing-only', frequencyHz: interval(DAMPED_HZ, 0.14), axis: 'Y', since },
  };
}

/** A proof print that rings at its higher accelerations; the ramps of the lowest leave no wall to read. */
export function proofReading(): Reading {
  const { printRecord, heights, ...reading } = spacingOnlyReading();
  const bands = [300, 2000, 3500, 5000, 7000].map((mmPerS2, i) => ({
    fromMm: Number((12.8 * i).toFixed(1)),
    toMm: Number((12.8 * (i + 1)).toFixed(1)),
    mmPerS2,
  }));
  const percents = [undefined, 0.4, 0.5, 1.9, 4.2];
  const steps = bands.map((band, i) => {
    const size = percents[i];
    return size === undefined
      ? { ...band, heights: 0, significant: false }
      : {
          ...band,
          heights: 15,
          amplitude: { value: size / 100, sd: 0.0024 },
          significant: size > 1,
          detectable: 0.0111,
        };
  });
  const accelerationLadder = { bands };
  return {
    ...reading,
    printRecord: { ...printRecord, ladder: { kind: 'fixed', hz: 42 }, accelerationLadder },
    heights: heights.map((height) => {
      const step = Math.floor(height.heightMm / 12.8);
      const size = percents[step];
      const { amplitude, ...rest } = height;
      const value = Math.abs((size ?? 0) / 100 + 0.15 * (amplitude!.value - 0.021));
      return {
        ...rest,
        ladderHz: 42,
        accelerationMmPerS2: bands[step]!.mmPerS2,
        ...(size === undefined ? {} : { amplitude: { value, sd: 0.003 } }),
      };
    }),
    proposal: {
      state: 'proof',
      axis: 'Y',
      at: {
        state: 'measured',
        dampedHz: interval(DAMPED_HZ, 0.4),
        dampingRatio: { value: DAMPING, sd: 0.008 },
      },
      sharedSd: 0.09,
      steps,
      quietUpTo: { mmPerS2: 3500, below: 0.0111 },
      growth: { perDoubling: interval(0.021, 0.004), verdict: 'grows' },
      model: Array.from({ length: 40 }, (_, i) => {
        const mmPerS2 = 1800 + 200 * i;
        return { mmPerS2, amplitude: 0.044 * (mmPerS2 / 9000) * Math.abs(Math.sin(13_500 / mmPerS2)) };
      }),
    },
  };
}

/** One that rings nowhere, at the frequency of the shaper. */
export function quietProofReading(): Reading {
  const { proposal, ...reading } = proofReading();
  if (proposal.state !== 'proof') throw new Error('it is a proof');
  delete reading.ringing;
  const rest = { ...proposal };
  delete rest.model;
  const steps = rest.steps
    .slice(1)
    .map((step) => ({ ...step, amplitude: { value: 0.003, sd: 0.002 }, significant: false }));
  return {
    ...reading,
    spacingCheck: { state: 'not-measurable' },
    proposal: {
      ...rest,
      at: { state: 'assumed', dampedHz: 41.8, dampingRatio: 0.1 },
      sharedSd: 0,
      steps,
      quietUpTo: { mmPerS2: 7000, below: 0.0111 },
      growth: { perDoubling: interval(0.0004, 0.0011), verdict: 'level' },
    },
  };
}

/**
 * A profile with a decaying ripple and its spectrum.
 * @param heightMm - Its height.
 * @param amplitude - Relative contrast at the corner.
 */
export function heightView(heightMm: number, amplitude: number): NonNullable<PictureData['best']> {
  const positionsMm = Array.from({ length: 648 }, (_, i) => 2 + 0.125 * i).filter((x) => x < 40 || x > 42);
  const timeS = positionsMm.map((x) => x / SPEED_MM_PER_S + 0.004);
  const omega = 2 * Math.PI * DAMPED_HZ;
  const fitted = timeS.map((t) => amplitude * Math.exp(-DAMPING * omega * t) * Math.sin(omega * t));
  const measured = fitted.map((value, i) => value + 0.0016 * noise(i));
  const binHz = 0.25;
  const amplitudes = Array.from({ length: 620 }, (_, bin) => {
    const off = (bin * binHz - DAMPED_HZ) / 2.4;
    const line = (0.35 * amplitude) / Math.sqrt(1 + off ** 4);
    return Math.hypot(line, 0.00025 * (1.1 + Math.sin(0.61 * bin) * Math.sin(0.173 * bin + 2)));
  });
  const peak = Math.max(...amplitudes);
  return {
    heightMm,
    profile: { positionsMm, timeS, measured, fitted },
    spectrum: {
      binHz,
      amplitude: amplitudes,
      peakHz: { value: amplitudes.indexOf(peak) * binHz, sd: 0.4 },
      peakAmplitude: peak,
      noiseFloor: 0.00027,
      significant: peak > 3.5 * 0.00027,
    },
  };
}

/** What goes with `proposedReading`. */
export function pictureData(): PictureData {
  return {
    faceDataUri: TINY_FACE_URI,
    found: FOUND,
    strongest: heightView(2.8, 0.021),
    best: heightView(30.8, 0.0004),
  };
}

/** The photo with some layers and a length marked on it. */
const FOUND: NonNullable<PictureData['found']> = {
  dataUri: TINY_FACE_URI,
  marks: {
    layers: [0, 100, 200, 300].map((layer) => ({
      layer,
      edgePx: [606 + 0.06 * layer, 2036 - 4.2 * layer],
      outPx: [560 + 0.06 * layer, 2036 - 4.2 * layer],
    })),
    bar: { lengthMm: 20, fromPx: [700, 1960], toPx: [1130, 1972] },
  },
};

/** No face was found. */
export function unseenReading(): Reading {
  const { ...reading } = bareRefusal();
  delete reading.face;
  delete reading.layerLines;
  return {
    ...reading,
    scales: [],
    search: {
      how: 'unclear',
      guesses: [
        {
          cornersPx: [
            [627, 690],
            [2419, 703],
            [2368, 2100],
            [606, 2037],
          ],
          confidence: 0.61,
        },
        {
          cornersPx: [
            [2800, 900],
            [3700, 930],
            [3650, 2300],
            [2780, 2250],
          ],
          confidence: 0.33,
        },
      ],
      references: [],
      missing: ['ruler'],
    },
    proposal: {
      state: 'refused',
      reason: 'face-unclear',
      advice: 'Give one corner of the right face or more (--face), or take a photo with one tower in it.',
    },
  };
}

/** What there is to draw where no face was found. */
export function unseenPicture(): PictureData {
  return { found: { dataUri: TINY_FACE_URI } };
}

/** Three photos: one used with a note of its own, one used without, one that contradicts them. */
export function jointReading(): JointReading {
  const reading = proposedReading();
  const { spacingCheck, budget, proposal, ringing } = reading;
  return {
    schema: 'stillband/joint-reading@1',
    versions: reading.versions,
    photos: [
      { use: 'used', reading },
      { use: 'used', reading: { ...reading, assumptions: refusedReading().assumptions } },
      { use: 'odd-one-out', reading },
      { use: 'refused', reading: refusedReading() },
    ],
    ringing: { ...ringing!, signalToNoise: 77 },
    lamps: { gains: [1, -0.8], signalToNoise: { alone: 52, together: 77 } },
    spacingCheck,
    nullFit: reading.nullFit,
    budget,
    proposal,
    warnings: [
      { code: 'soft-focus', text: 'Invented: about one photo.', photos: [1] },
      { code: 'clipped-light', text: 'Invented: about both that are used.', photos: [0, 1] },
    ],
  };
}
