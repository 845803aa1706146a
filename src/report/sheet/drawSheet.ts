import type { JointReading } from '../../reading/jointSchema.js';
import type { Reading } from '../../reading/schema.js';
import { accelerationPart } from '../charts/acceleration.js';
import { AXIS_MARK_PX, axisMark, axisMarkWords, type AxisMark } from '../charts/axisMark.js';
import { budgetChart, budgetRows } from '../charts/budget.js';
import { markedPhoto, type FoundData } from '../charts/found.js';
import type { HeatData } from '../charts/heatMap.js';
import { LAMP_DESCRIPTION, LAMP_PART_PX, lampPart, needsLamp } from '../charts/lamp.js';
import { heatStrip, stripNotes, type ReadingWithFace } from '../charts/strip.js';
import { halfWidth95, withUncertainty, withUnit } from '../format.js';
import { jointWords } from '../jointReport.js';
import { EXCHANGED } from '../pairWords.js';
import { recordRows } from '../recordRows.js';
import { reportSections, verdictParts, type ReportSections } from '../words.js';
import { provenanceRows, type LogbookPlace, type PicturesFrom } from './provenance.js';
import {
  COLUMN_PX,
  WIDE_PX,
  type Sheet,
  type SheetFigure,
  type SheetSection,
  type SheetSide,
} from './sheet.js';

/** What a sheet shows beside the reading; what is absent is left out. */
export interface SheetPictures {
  /** The flattened face in a data URI, leading corner at the left. */
  readonly faceDataUri?: string;
  readonly heat?: HeatData;
  /** The photo with the marks that show how it was read. */
  readonly found?: FoundData;
}

/** A reading with what its sheet needs. */
export interface SheetSubject {
  /** Fresh or stored. */
  readonly reading: Reading | JointReading;
  /** Of several photos: of the first one used. */
  readonly pictures?: SheetPictures;
  /** What to call the photos, one for each. */
  readonly photoNames?: readonly string[];
  /** Where the reading is kept; absent: in no logbook. */
  readonly logbook?: LogbookPlace;
  /** Where the pictures come from, where not from the measurement itself. */
  readonly picturesFrom?: PicturesFrom;
  /** Of a pair: both fit their machine's history better the other way round. @default false */
  readonly exchanged?: boolean;
}

/** The labels at an axis' ends stand out a little. */
const EDGE_PX = 5;
const PHOTO_HEIGHT_PX = 195;
/** A photo in which no face is read is the evidence itself. */
const LONE_PHOTO_PX = 430;
/** Lower than on a screen: a proof, too, has one page. */
const ACCELERATION_PX = 105;

/**
 * Describes the sheet of a reading: verdict first, then the evidence in the order of reading.
 * @param subject - The reading and its pictures.
 * @returns The sheet, for `sheetHtml` and `sheetPages`.
 * @throws {RangeError} When a number is not finite, or a joint reading has no photo.
 */
export function drawSheet(subject: SheetSubject): Sheet {
  const side = sideOf(subject);
  return {
    // A reason is a whole clause: what stands before it is enough for a title.
    title: `${side.axis}: ${side.answer.split(':')[0] ?? ''}`,
    description: `Evidence of one reading. ${side.goodFor}.`,
    sides: [side],
  };
}

/**
 * Describes one sheet for two axes of a machine, side by side: by the names of the axes from left to right.
 * @param a - One axis.
 * @param b - The other.
 * @returns The sheet.
 * @throws {RangeError} When a number is not finite, or both readings are of one axis.
 */
export function drawPairSheet(a: SheetSubject, b: SheetSubject): Sheet {
  const [one, other] = [axisOf(a), axisOf(b)];
  if (one === other) throw new RangeError(`Expected two axes but received ${one} twice`);
  const [left, right] = one < other ? [sideOf(a), sideOf(b)] : [sideOf(b), sideOf(a)];
  return {
    title: `${left.axis} and ${right.axis}`,
    description: `Evidence of two readings of one machine. ${left.axis}: ${left.answer}. ${right.axis}: ${right.answer}.`,
    sides: [left, right],
  };
}

function axisOf({ reading }: SheetSubject): string {
  const first = reading.schema === 'stillband/reading@1' ? reading : reading.photos[0]?.reading;
  return first?.printRecord.axis ?? '';
}

/** A reading as the sheet tells it: of several photos, as if it were one. */
interface Told {
  readonly reading: Reading;
  readonly sections: ReportSections;
  readonly photos: readonly string[];
  readonly all: readonly Reading[];
  readonly schema: string;
}

function toldOf({ reading, photoNames = [] }: SheetSubject): Told {
  const { schema } = reading;
  if (schema === 'stillband/reading@1') {
    return { reading, sections: reportSections(reading), photos: [], all: [reading], schema };
  }
  const words = jointWords(reading, photoNames);
  if (words === undefined)
    throw new RangeError('Expected a joint reading of photos but received one of none');
  return { ...words, all: reading.photos.map((photo) => photo.reading), schema };
}

function sideOf(subject: SheetSubject): SheetSide {
  const told = toldOf(subject);
  const { reading, sections } = told;
  const { pictures = {} } = subject;
  const mark: AxisMark = { axis: reading.printRecord.axis, value: valueOf(reading) };
  return {
    heading: headingOf(reading),
    ...verdictParts(sections),
    goodFor: sections.goodFor,
    belongs: subject.exchanged === true ? `${belongs(reading)} ${EXCHANGED}` : belongs(reading),
    mark: {
      svg: axisMark(mark, { left: 0, top: 0 }).svg,
      widthPx: AXIS_MARK_PX.width,
      heightPx: AXIS_MARK_PX.height,
      alt: axisMarkWords(mark),
      caption: '',
    },
    pictures: widePictures(told, pictures),
    sections: sectionsOf(told, subject),
  };
}

function headingOf({ printRecord: { machine, title, printedOn, material } }: Reading): string {
  return [machine, title, material, printedOn && `printed ${printedOn}`]
    .filter((part) => part !== undefined)
    .join('  ·  ');
}

/** What stands in the axis' place. */
function valueOf({ proposal }: Reading): string {
  switch (proposal.state) {
    case 'proposed':
    case 'spacing-only': {
      const { value, low95, high95 } = proposal.frequencyHz;
      return withUnit(withUncertainty({ value, sd: Math.max(high95 - value, value - low95) }).value, 'Hz');
    }
    case 'proof':
      return 'proof';
    case 'refused':
      return 'no value';
  }
}

function belongs({ proposal, printRecord: { axis } }: Reading): string {
  const which = `axis ${axis}, the one perpendicular to the photographed face`;
  switch (proposal.state) {
    case 'proposed':
      return `This value belongs to ${which}, and to no other.`;
    case 'spacing-only':
      return `This is how ${which}, swings.`;
    case 'proof':
      return `This proves ${which}, and no other.`;
    case 'refused':
      return `This is about ${which}.`;
  }
}

function widePictures(
  { reading, all }: Told,
  { faceDataUri, heat, found }: SheetPictures,
): readonly SheetFigure[] {
  const figures: SheetFigure[] = [];
  const place = { left: EDGE_PX, top: 0, width: WIDE_PX - 2 * EDGE_PX };
  if (hasFace(reading)) {
    const strip = heatStrip(reading, { faceDataUri, heat }, place);
    const notes = stripNotes(reading);
    const said = [
      ['Face', notes.face],
      ['Heat map', heat === undefined ? '' : HEAT_NOTE],
      ['Waist', notes.waist],
      ['Rule', notes.rule],
      ['Spacing', notes.spacing],
    ].flatMap(([name = '', text = '']) => (text === '' ? [] : [`${name}: ${text}`]));
    if (all.length > 1) said.push('Shown is the first photo that was used; band and best height are of all.');
    figures.push({
      svg: strip.svg,
      widthPx: WIDE_PX,
      heightPx: strip.heightPx,
      alt: stripAlt(reading, heat !== undefined),
      caption: said.join(' '),
    });
  }
  const lone = hasFace(reading) ? undefined : photoFigure(reading, found, [WIDE_PX, LONE_PHOTO_PX]);
  if (lone !== undefined) figures.push(lone);
  if (needsLamp(reading.proposal)) figures.push(lampFigure());
  if (reading.proposal.state === 'proof') {
    const part = accelerationPart(reading.proposal, place, ACCELERATION_PX);
    figures.push({
      svg: part.svg,
      widthPx: WIDE_PX,
      heightPx: part.heightPx,
      alt: 'Ripple contrast against acceleration; the numbers are listed below.',
      caption: '',
    });
  }
  return figures;
}

const HEAT_NOTE =
  'brightness along the wall, slow changes taken out; blue and dark: darker, amber and pale: brighter.';

function stripAlt({ proposal }: Reading, withHeat: boolean): string {
  const charts = `Side by side at one height scale: the flattened photo of the face${withHeat ? ', a heat map of contrast along the wall' : ''}, ripple contrast against height, a rule in millimetres, layers and ladder, and the ripple spacing.`;
  return proposal.state === 'proposed'
    ? `${charts} One line at ${halfWidth95(proposal.bestHeightMm, 'mm')} runs through all of them: the best height, where the ripples vanish.`
    : charts;
}

function hasFace(reading: Reading): reading is ReadingWithFace {
  return reading.face !== undefined;
}

function sectionsOf(told: Told, subject: SheetSubject): readonly SheetSection[] {
  const { reading, sections, photos, all, schema } = told;
  const budget = budgetFigure(reading);
  const photo = hasFace(reading)
    ? photoFigure(reading, subject.pictures?.found, [COLUMN_PX, PHOTO_HEIGHT_PX])
    : undefined;
  const { assumed } = sections;
  const several = all.length > 1;
  return [
    { name: 'Why', lines: sections.why },
    { name: 'Pen line', lines: sections.penLine },
    { name: 'Numbers', lines: sections.numbers },
    { name: 'Uncertainty', ...(budget === undefined ? {} : { figure: budget }) },
    {
      name: several ? 'Photos' : 'Photo',
      lines: several ? photos : sections.photo,
      ...(photo === undefined ? {} : { figure: photo }),
    },
    {
      name: several ? 'Told of the print (first photo used)' : 'Told of the print',
      rows: recordRows(reading.printRecord),
    },
    {
      name: 'Assumed',
      lines: assumed.length > 0 ? assumed : ['nothing: all that the result depends on was told'],
    },
    { name: 'Notes', lines: sections.warnings },
    { name: 'Next', lines: sections.next },
    { name: 'What this cannot show', lines: LIMITS },
    {
      name: 'Where it comes from',
      rows: provenanceRows({
        schema,
        version: reading.versions.stillband,
        photos: all.flatMap((one) => one.photos),
        names: subject.photoNames ?? [],
        logbook: subject.logbook,
        picturesFrom: subject.picturesFrom,
      }),
    },
  ];
}

const LIMITS = [
  'that the photo is of the machine and print named: only the picture was seen',
  'that what was told is true: a wrong number shows only where two routes contradict each other',
  'how deep the ripples are: contrast depends on the light',
  'that the machine still swings so: belts, moving mass, frame and feet change it',
] as const;

function budgetFigure(reading: Reading): SheetFigure | undefined {
  const rows = budgetRows(reading);
  if (rows.length === 0) return undefined;
  const { svg, heightPx } = budgetChart(rows, { left: 0, top: 0, width: COLUMN_PX });
  const said = rows.map(
    ({ cause, nullHz, spacingHz }) =>
      `${cause}: ${nullHz.toFixed(2)} by height, ${spacingHz.toFixed(2)} by spacing`,
  );
  return {
    svg,
    widthPx: COLUMN_PX,
    heightPx,
    alt: `What each cause adds to the uncertainty, Hz at 95 %. ${said.join('; ')}.`,
    caption: 'Each cause by itself; together they add as the root of the sum of squares.',
  };
}

function photoFigure(
  reading: Reading,
  found: FoundData | undefined,
  [width, height]: readonly [width: number, height: number],
): SheetFigure | undefined {
  if (found === undefined) return undefined;
  const room = { left: 0, top: 0, width, height };
  const { svg, widthPx, heightPx } = markedPhoto(reading, found, room);
  const isFace = reading.face !== undefined;
  return {
    svg,
    widthPx,
    heightPx,
    alt: isFace
      ? 'The photo, with the edges of the face, layer numbers, a scale bar and the references outlined.'
      : 'The photo, in which no face is read.',
    caption: isFace ? 'Outlined: the face; dashed: what tells the scale. Ticks: layer numbers.' : '',
  };
}

function lampFigure(): SheetFigure {
  const { svg, heightPx } = lampPart({ left: 0, top: 0 });
  return { svg, widthPx: LAMP_PART_PX.width, heightPx, alt: `${LAMP_DESCRIPTION}.`, caption: '' };
}
