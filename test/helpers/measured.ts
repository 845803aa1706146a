import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { measureForPicture, type Measurement } from '../../src/measurePhoto.js';
import { parsePrintRecord, type PrintRecord } from '../../src/print/record.js';

/** The ray-traced photographs of testimages. */
export const PHOTO_NAMES = [
  'white-card',
  'black-markers',
  'blue-markers',
  'orange-card-set-back',
  'red-ruler',
  'silver-face-only',
] as const;
export type PhotoName = (typeof PHOTO_NAMES)[number];

/** The fields of a truth file that tests use; testimages/README.md says what they mean. */
export interface PhotoTruth {
  readonly upright_size_px: readonly [number, number];
  readonly exif_orientation: number;
  readonly f_d_hz: number;
  readonly zeta: number;
  readonly wavelength_mm: number;
  readonly W_mm: number;
  readonly H_mm: number;
  readonly leading_side: 'left' | 'right';
  readonly null: { readonly best_fs_hz: number; readonly height_mm: number } | null;
  readonly face_corners_px_tl_tr_br_bl: readonly (readonly [number, number])[];
  readonly pen_line: { readonly height_mm: number; readonly width_mm: number } | null;
  readonly reference: {
    readonly plane_offset_behind_face_mm: number;
    readonly size_mm?: readonly number[];
    readonly long_side?: string;
    readonly virtual_corners_px_tl_tr_br_bl?: readonly (readonly [number, number])[];
    readonly centre_rectangle_mm?: readonly number[];
    readonly centres_px_tl_tr_br_bl?: readonly (readonly [number, number])[];
    readonly points?: readonly { readonly mark_mm: number; readonly px: readonly [number, number] }[];
    readonly apparent_scale_ratio_ref_over_face?: number;
  } | null;
  readonly camera: {
    readonly f35_mm: number;
    readonly focal_px: number;
    readonly distance_to_aim_point_mm: number;
    readonly pan_deg: number;
    readonly tilt_deg: number;
    readonly principal_point_px: readonly [number, number];
    readonly k1: number;
  };
}

/**
 * Path of a file in testimages.
 * @param file - Its name.
 */
export function photoPath(file: string): string {
  return fileURLToPath(new URL(`../../testimages/${file}`, import.meta.url));
}

/**
 * Bytes of a photograph, as stored.
 * @param name - The photograph.
 */
export function photoBytes(name: PhotoName): Uint8Array {
  return readFileSync(photoPath(`${name}.jpg`));
}

/**
 * The print record that belongs to a photograph, in which the corners are not told.
 * @param name - The photograph.
 */
export function recordAsTold(name: PhotoName): PrintRecord {
  return parsePrintRecord(readFileSync(photoPath(`${name}.print.json`), 'utf8'));
}

/**
 * The same with the corners of the truth, as somebody would click them who clicks to 0.1 px.
 * @param name - The photograph.
 */
export function photoRecord(name: PhotoName): Omit<PrintRecord, 'facePx'> & { readonly facePx: Corners } {
  const corners = photoTruth(name).face_corners_px_tl_tr_br_bl;
  const facePx = corners.map(([x, y]): Point => [Number(x.toFixed(1)), Number(y.toFixed(1))]);
  return { ...recordAsTold(name), facePx: facePx as Corners };
}

type Point = [x: number, y: number];
type Corners = [Point, Point, Point, Point];

/**
 * What was simulated.
 * @param name - The photograph.
 */
export function photoTruth(name: PhotoName): PhotoTruth {
  return JSON.parse(readFileSync(photoPath(`${name}.truth.json`), 'utf8')) as PhotoTruth;
}

const cache = new Map<PhotoName, Promise<Measurement>>();

/**
 * Measures a photograph with its own record, once for each test file.
 * @param name - The photograph.
 * @returns Reading and view.
 */
export function measured(name: PhotoName): Promise<Measurement> {
  const known = cache.get(name);
  if (known !== undefined) return known;
  const fresh = measureForPicture(photoBytes(name), photoRecord(name));
  cache.set(name, fresh);
  return fresh;
}
