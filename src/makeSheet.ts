import { encodeFace, encodePhoto, encodeRaster } from './imaging/encode.js';
import type { ReadingView } from './measurePhoto.js';
import type { JointReading } from './reading/jointSchema.js';
import type { Reading } from './reading/schema.js';
import { drawingPdf } from './report/drawingPdf.js';
import { heatRaster } from './report/heatRaster.js';
import type { Paper } from './report/paper.js';
import { drawPairSheet, drawSheet, type SheetPictures, type SheetSubject } from './report/sheet/drawSheet.js';
import type { LogbookPlace, PicturesFrom } from './report/sheet/provenance.js';
import type { Sheet } from './report/sheet/sheet.js';
import { sheetPages } from './report/sheet/sheetPages.js';

/** A reading to make a sheet of. */
export interface MeasuredForSheet {
  readonly reading: Reading | JointReading;
  /** What its pictures are made of; of several photos that of the first one used. Absent: the sheet has no photo on it. */
  readonly view?: ReadingView;
  /** What to call the photos, one for each, such as the names of their files. */
  readonly photoNames?: readonly string[];
  /** Where the reading is kept; absent: in no logbook, and the sheet says so. */
  readonly logbook?: LogbookPlace;
  /** Of a stored reading: where its pictures come from. */
  readonly picturesFrom?: PicturesFrom;
  /** Of a pair: both fit their machine's history better the other way round. @default false */
  readonly exchanged?: boolean;
}

/** Width up to which the face is kept: 300 dots per inch where a sheet shows it, and enough for a screen. */
const FACE_WIDTH_PX = 900;

/**
 * Describes the sheet of evidence of a reading.
 * @param measured - The reading, of one photo or several, and its view.
 * @returns The sheet, for `sheetHtml` and `sheetPdf`.
 */
export async function makeSheet(measured: MeasuredForSheet): Promise<Sheet> {
  return sheetOf(await sheetSubject(measured));
}

/**
 * The same in two steps: what a sheet is described from is plain data, and can be kept or sent elsewhere.
 * @param measured - The reading, of one photo or several, and its view.
 * @returns The reading with its pictures in data URIs.
 */
export async function sheetSubject({ view, ...told }: MeasuredForSheet): Promise<SheetSubject> {
  return view === undefined ? told : { ...told, pictures: await picturesOf(view, told.reading) };
}

/**
 * Describes the sheet of evidence of a reading whose pictures are made.
 * @param subject - From `sheetSubject`; where the reading is kept may be put into it afterwards.
 * @returns The sheet, for `sheetHtml` and `sheetPdf`.
 */
export function sheetOf(subject: SheetSubject): Sheet {
  return drawSheet(subject);
}

/**
 * Describes one sheet for two axes of a machine, side by side.
 * @param a - One axis.
 * @param b - The other.
 * @returns The sheet.
 * @throws {RangeError} When both readings are of one axis.
 */
export async function makePairSheet(a: MeasuredForSheet, b: MeasuredForSheet): Promise<Sheet> {
  return drawPairSheet(await sheetSubject(a), await sheetSubject(b));
}

/**
 * A sheet as a PDF document of its paper's true size, its text searchable.
 * @param sheet - From `makeSheet` or `makePairSheet`.
 * @param paper - What it is printed on.
 * @param createdAt - When it was made, as the document says.
 * @returns The document's bytes.
 */
export async function sheetPdf(sheet: Sheet, paper: Paper, createdAt: Date): Promise<Uint8Array> {
  return drawingPdf(sheetPages(sheet, paper), createdAt);
}

async function picturesOf(view: ReadingView, reading: Reading | JointReading): Promise<SheetPictures> {
  const { face, photo, marks, heat } = view;
  const size = faceOf(reading);
  const raster =
    heat === undefined || size === undefined
      ? undefined
      : heatRaster(heat(), { ...size, topMm: size.bottomMm + size.heightMm });
  return {
    ...(face === undefined ? {} : { faceDataUri: await encodeFace(face, FACE_WIDTH_PX) }),
    ...(raster === undefined
      ? {}
      : {
          heat: { dataUri: await encodeRaster(raster), widthMm: raster.widthMm, limit: raster.limit },
        }),
    found: { dataUri: await encodePhoto(await photo()), ...(marks === undefined ? {} : { marks }) },
  };
}

function faceOf(reading: Reading | JointReading): Reading['face'] {
  if (reading.schema === 'stillband/reading@1') return reading.face;
  return (reading.photos.find(({ use }) => use === 'used') ?? reading.photos[0])?.reading.face;
}
