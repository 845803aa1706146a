import type { SignedAmplitude } from '../../src/band/gainProblem.js';
import { checkPrintRecord } from '../../src/print/record.js';
import { settlePrint, type PrintSettings } from '../../src/print/settle.js';
import type { Profiles } from '../../src/profiles/makeProfiles.js';
import { readJson } from './readReference.js';

/** Complex numbers, part by part. */
export interface ComplexList {
  readonly re: readonly number[];
  readonly im: readonly number[];
}

/** What the study says of a joint problem; `joint_numbers` in scripts/reference/studyFaces.py. */
export interface StudyJoint {
  readonly groups: readonly {
    readonly bands: readonly number[];
    readonly columns: number;
    readonly first: number;
    readonly last: number;
  }[];
  /** Every sixteenth column of each group. */
  readonly timeS: readonly (readonly number[])[];
  readonly speedRatio: readonly (readonly number[])[];
  /** At the six points of the stencil, of each band. */
  readonly residuals: readonly (readonly number[])[];
  readonly weights: readonly number[];
  /** At the axis' true values, and far from them. */
  readonly cost: number;
  readonly farCost: number;
  readonly amplitudes: ComplexList;
  readonly sd: readonly number[];
  readonly minimum: { readonly frequencyHz: number; readonly dampingRatio: number; readonly cost: number };
}

/** What the study says of the null; `null_numbers` in scripts/reference/studyFaces.py. */
export interface StudyNull {
  readonly factor: ComplexList;
  readonly prior: readonly number[];
  readonly bentPrior: readonly number[];
  readonly trials: readonly {
    readonly naturalHz: number;
    readonly zeta: number;
    readonly timeOrigin: -1 | 0 | 1;
    readonly tilt: number;
    readonly bow: number;
    readonly order: number;
    readonly cost: number;
    /** Coefficients of the gain times the common phase. */
    readonly gain: ComplexList;
  }[];
  readonly search: {
    readonly startHz: number;
    readonly unit: number;
    readonly zeta: number;
    readonly zetaSd: number;
  };
  readonly minimum: { readonly naturalHz: number; readonly dampingRatio: number; readonly cost: number };
  readonly nullHz: number;
}

/** A face drawn by the study, as the stages see it, and the study's numbers. */
export interface StudyFace {
  readonly name: string;
  readonly profiles: Profiles;
  readonly settings: PrintSettings;
  readonly cutoffHz: number;
  readonly pitchMm: number;
  /** True values of the axis. */
  readonly naturalHz: number;
  readonly frequencyHz: number;
  readonly dampingRatio: number;
  /** With columns and background chosen as the product does, and as the study does. */
  readonly product: StudyJoint;
  readonly study: StudyJoint;
  /** As the product does, with the columns of the squared slope. */
  readonly squares: {
    readonly residuals: readonly number[];
    readonly amplitudes: ComplexList;
    readonly sd: readonly number[];
  };
  readonly null: StudyNull;
  /** What the study's null fit was given: the amplitudes of `product`. */
  readonly amplitudes: readonly SignedAmplitude[];
}

interface Stored {
  readonly shaper: PrintSettings['shaper'];
  readonly wallShaped: boolean;
  readonly speedMmPerS: number;
  readonly cornerSpeedMmPerS: number;
  readonly accelerationMmPerS2: number;
  readonly wallEndMm: number;
  readonly cutoffHz: number;
  readonly pitchMm: number;
  readonly naturalHz: number;
  readonly dampingRatio: number;
  readonly ladderHz: readonly number[];
  /** Hexadecimal, little-endian: float64, bytes, float32 (bands × columns). */
  readonly positionsMm: string;
  readonly usable: string;
  readonly profiles: string;
}

type Expected = Pick<StudyFace, 'frequencyHz' | 'product' | 'study' | 'squares' | 'null'>;

/**
 * The ten faces of `study_faces.json` with the numbers of `study_expected.json`, both made by
 * scripts/reference/studyFaces.py.
 * @returns The faces in their order.
 */
export function studyFaces(): readonly StudyFace[] {
  const { faces } = readJson('study_faces.json') as { readonly faces: readonly Stored[] };
  const { faces: expected } = readJson('study_expected.json') as { readonly faces: readonly Expected[] };
  return faces.map((stored, i) => {
    const { shaper, wallShaped, cutoffHz, pitchMm, naturalHz, dampingRatio } = stored;
    const numbers = expected[i]!;
    const { re, im } = numbers.product.amplitudes;
    return {
      ...numbers,
      ...{ cutoffHz, pitchMm, naturalHz, dampingRatio },
      name: `face ${i}: ${shaper.family}, wall ${wallShaped ? 'shaped' : 'not shaped'}`,
      profiles: profilesOf(stored),
      settings: settingsOf(stored),
      amplitudes: stored.ladderHz.map((ladderHz, k) => ({
        // The study's gain is smooth in the frequency, which climbs evenly with the height.
        ...{ heightMm: ladderHz, ladderHz, re: re[k]!, im: im[k]! },
        sd: numbers.product.sd[k]!,
      })),
    };
  });
}

function profilesOf({ positionsMm, usable, profiles, ladderHz, wallEndMm }: Stored): Profiles {
  const x = Float64Array.from(numbersIn(positionsMm, 8));
  const values = numbersIn(profiles, 4);
  return {
    walls: [{ startMm: 0, endMm: wallEndMm, startsAt: 'leading-corner' }],
    stepMm: x[1]! - x[0]!,
    positionsMm: x,
    usable: Uint8Array.from(Buffer.from(usable, 'hex')),
    bands: ladderHz.map((hz, band) => ({
      heightMm: band + 0.5,
      ladderHz: hz,
      values: Float64Array.from(values.slice(band * x.length, (band + 1) * x.length)),
    })),
    penLines: [],
  };
}

function numbersIn(text: string, bytes: 4 | 8): number[] {
  const buffer = Buffer.from(text, 'hex');
  const at = (i: number) => (bytes === 4 ? buffer.readFloatLE(4 * i) : buffer.readDoubleLE(8 * i));
  return Array.from({ length: buffer.length / bytes }, (_, i) => at(i));
}

function settingsOf(stored: Stored): PrintSettings {
  const { speedMmPerS, accelerationMmPerS2, cornerSpeedMmPerS, ladderHz, shaper, wallShaped } = stored;
  return settlePrint(
    checkPrintRecord({
      schema: 'stillband/print-record@1',
      axis: 'Y',
      ...{ speedMmPerS, accelerationMmPerS2, cornerSpeedMmPerS },
      layerHeightMm: 0.2,
      face: { widthMm: 48, heightMm: 24, leadingCorner: 'left' },
      ladder: { kind: 'table', points: ladderHz.map((hz, band) => ({ mm: band + 0.5, hz })) },
      shaper: { ...shaper, alongWall: wallShaped ? 'as-ladder' : 'off' },
    }),
  ).settings;
}
