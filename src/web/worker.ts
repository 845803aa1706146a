import {
  anyReadingOf,
  compareReadings,
  compareSections,
  comparisonFigure,
  expectAlike,
  logbookHead,
  logbookTrends,
  readingOfEntry,
  sheetOfEntry,
  singleReadings,
  storedPhoto,
  trendAdvice,
  trendFigure,
  trendRows,
  trendVerdict,
  type CompareSections,
  type Entry,
  type EntryLine,
  type Sheet,
  type SheetFigure,
  type TrendRow,
  cardPdf,
  cardSvg,
  checkPhoto,
  chartsOfAxis,
  checkReport,
  decideShapers,
  drawChecklist,
  drawReading,
  earlierAxis,
  formatHead,
  heightsCsv,
  InputError,
  jointReport,
  listEntries,
  makeCard,
  makePlan,
  makeTower,
  measureForPicture,
  measureTogetherForPicture,
  parseAnyReading,
  planNeeds,
  entryOrDamage,
  readEntry,
  readLimits,
  saveReading,
  sheetHtml,
  sheetOf,
  sheetPdf,
  sheetSubject,
  surveyPhoto,
  textReport,
  towerOf,
  viewPhoto,
  type AnyReading,
  type CardOptions,
  type CheckOptions,
  type HeightView,
  type InputErrorCode,
  type MeasureOptions,
  type Paper,
  type PhotoSurvey,
  type PhotoToJoin,
  type Plan,
  type PlanTexts,
  type PrintRecord,
  type ReadingView,
  type ShaperDecision,
  type SheetSubject,
  type TogetherOptions,
} from '../index.js';
import { planJobFile, readJobFile, weaveJobFile } from './jobFileTasks.js';

/** What a user did wrong, as it comes through between threads, where classes are lost. */
export interface Mistake {
  readonly code: InputErrorCode;
  readonly message: string;
  readonly advice: string;
  readonly field: string | undefined;
}

/** What a worker answers. */
export type Answer<T> =
  { readonly ok: true; readonly value: T } | { readonly ok: false; readonly mistake: Mistake };

/** A photo as it is handed to a worker. */
export interface PhotoFile {
  readonly bytes: Uint8Array;
  readonly name: string;
}

/** What is to be measured. */
export interface MeasureTask {
  /** One, or several that are measured together, with what is told of each. */
  readonly photos: readonly (Required<Pick<PhotoToJoin, 'name'>> & PhotoToJoin)[];
  readonly options: Pick<MeasureOptions, 'spacingOnly' | 'was'>;
  readonly together: TogetherOptions;
}

/** A finished measurement: JSON for the page in parts, files as the command writes them, and what a sheet is made of. */
export interface MeasuredParts {
  /** JSON of `reading`, `exitCode`, `text` and `view`, in this order, without the braces around. */
  readonly json: string;
  /** As `--json` prints it. */
  readonly readingFile: string;
  /** Of one photo alone. */
  readonly csvFile?: string;
  readonly svgFile?: string;
  readonly subject: SheetSubject;
  /** JSON of the sheet. */
  readonly sheetJson: string;
}

/** What is to be saved. */
export interface SaveTask {
  readonly folder: string;
  readonly reading: AnyReading;
  readonly photos: readonly PhotoFile[];
  readonly asked: NonNullable<Parameters<typeof saveReading>[1]['asked']>;
  readonly note?: string;
  readonly changed?: readonly string[];
  readonly keepPosition: boolean;
  readonly subject: SheetSubject;
}

/** What was saved, and the sheet that says so. */
export interface SavedParts {
  readonly entry: number;
  readonly head: string;
  /** What the logbook held already that the user should know of, in sentences. */
  readonly notes: readonly string[];
  readonly subject: SheetSubject;
  readonly sheetJson: string;
}

/** What is known of one axis of a machine. */
export interface KnownAxis {
  /** Absent where it was not named. */
  readonly machine: string | undefined;
  readonly axis: string;
  /** The latest entry with a reading of it. */
  readonly entry: number;
  readonly savedAt: string;
  readonly record: PrintRecord;
}

/** By what shapers are to be chosen. */
export interface DecideTask {
  /** The logbook's folder; absent where there is none. */
  readonly folder?: string;
  readonly entries: readonly number[];
  /** Readings as JSON text. */
  readonly texts: readonly string[];
  /** Limits by name, as typed. */
  readonly given: Readonly<Record<string, string>>;
}

/** What was decided, with the charts of each axis that has a choice, by its place in the decision. */
export interface Decided {
  readonly decision: ShaperDecision;
  readonly charts: readonly (SheetFigure | undefined)[];
}

/** What the logbook holds of one axis of a machine that shapers can be chosen by. */
export interface AxisChoice {
  /** Absent where it was not named. */
  readonly machine: string | undefined;
  readonly axis: string;
  /** Entries with a frequency by a ladder, the newest first. */
  readonly decidable: readonly EntryLine[];
  /** Newer entries by which nothing can be chosen, the newest first. */
  readonly newer: readonly EntryLine[];
}

/** So many axes are told of; a list to choose from is no use beyond. */
const MOST_AXES = 60;
/** So many entries of an axis are offered, and so many newer ones told. */
const MOST_OFFERED = 8;
/** Digits of what is drawn on a screen: a reading has them all. */
const DRAWN_DIGITS = 4;

/** Runs a task; a user's mistake is an answer. */
function answered<Task, Value>(
  run: (task: Task) => Promise<Value> | Value,
): (task: Task) => Promise<Answer<Value>> {
  return async (task) => {
    try {
      return { ok: true, value: await run(task) };
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      const { code, message, advice, field } = error;
      return { ok: false, mistake: { code, message, advice, field } };
    }
  };
}

/** Sees that a photo can be read, how large it is, and what its card says. */
export const survey = answered(({ bytes }: { readonly bytes: Uint8Array }): Promise<PhotoSurvey> =>
  surveyPhoto(bytes),
);

/** An upright, shrunk copy to look at. */
export const view = answered(({ bytes, widthPx }: { readonly bytes: Uint8Array; readonly widthPx: number }) =>
  viewPhoto(bytes, widthPx),
);

/** Checks a photo; returns JSON. */
export const check = answered(
  async (task: {
    readonly bytes: Uint8Array;
    readonly record?: PrintRecord;
    readonly options: CheckOptions;
  }): Promise<string> => {
    const { bytes, record, options } = task;
    const checked = await checkPhoto(bytes, record, options);
    return JSON.stringify({
      check: checked,
      text: checkReport(checked, options.guessed === true ? undefined : record),
      corners: checked.face?.cornersPx ?? null,
    });
  },
);

/** Measures one photo, or several together. */
export const measure = answered(
  async ({ photos, options, together }: MeasureTask): Promise<MeasuredParts> => {
    const [one, ...others] = photos;
    const names = photos.map(({ name }) => name);
    if (one === undefined || others.length > 0) {
      const measured = await measureTogetherForPicture(photos, together);
      return parts(measured.reading, measured.view, names, jointReport(measured.reading, names), {});
    }
    const { bytes, record, recordFromCard = false, cardRead } = one;
    const measured = await measureForPicture(bytes, record, {
      ...options,
      recordFromCard,
      ...(cardRead === undefined ? {} : { cardRead }),
    });
    return parts(measured.reading, measured.view, names, textReport(measured.reading), {
      csvFile: heightsCsv(measured.reading),
      svgFile: await drawReading(measured),
    });
  },
);

async function parts(
  reading: AnyReading,
  seen: ReadingView,
  photoNames: readonly string[],
  text: string,
  files: Pick<MeasuredParts, 'csvFile' | 'svgFile'>,
): Promise<MeasuredParts> {
  const subject = await sheetSubject({ reading, view: seen, photoNames });
  const shown = {
    ...subject.pictures,
    ...(seen.strongest === undefined ? {} : { strongest: drawn(seen.strongest) }),
    ...(seen.best === undefined ? {} : { best: drawn(seen.best) }),
    heights: seen.heights?.().map(drawn) ?? [],
  };
  // The exit code that the command would have: 0, or 3 for a refusal.
  const exitCode = reading.proposal.state === 'refused' ? 3 : 0;
  return {
    json: JSON.stringify({ reading, exitCode, text, view: shown }).slice(1, -1),
    readingFile: `${JSON.stringify(reading, null, 2)}\n`,
    ...files,
    subject,
    sheetJson: JSON.stringify(sheetOf(subject)),
  };
}

/** A height's profile and spectrum as plain lists, with as many digits as can be seen. */
function drawn({ heightMm, profile, spectrum }: HeightView): unknown {
  return {
    heightMm,
    profile: {
      timeS: rounded(profile.timeS),
      positionsMm: rounded(profile.positionsMm),
      measured: rounded(profile.measured),
      fitted: rounded(profile.fitted),
    },
    spectrum: { ...spectrum, amplitude: rounded(spectrum.amplitude) },
  };
}

function rounded(values: Float64Array): readonly number[] {
  return Array.from(values, (value) => Number(value.toPrecision(DRAWN_DIGITS)));
}

/** Writes a sheet as a file. */
export const sheetFile = answered(
  async (task: {
    readonly subject: SheetSubject;
    readonly format: 'html' | 'pdf';
    readonly paper: Paper;
  }): Promise<string | Uint8Array> => {
    const sheet = sheetOf(task.subject);
    return task.format === 'html' ? sheetHtml(sheet, task.paper) : sheetPdf(sheet, task.paper, new Date());
  },
);

/** Saves a reading and its photos in a logbook. */
export const save = answered(async (task: SaveTask): Promise<SavedParts> => {
  const { folder, subject, reading, photos, asked, note, changed, keepPosition } = task;
  const what = {
    reading,
    photos,
    asked,
    keepPosition,
    ...(note === undefined ? {} : { note }),
    ...(changed === undefined ? {} : { changed }),
  };
  const { entry, head, notes = [] } = await saveReading(folder, what, new Date());
  const place = { entry: String(entry.number), head: formatHead(head) };
  const placed = { ...subject, logbook: place };
  return {
    entry: entry.number,
    head: place.head,
    notes,
    subject: placed,
    sheetJson: JSON.stringify(sheetOf(placed)),
  };
});

/** The latest print record of each axis of each machine; none where there is no logbook yet. */
export const knownAxes = answered(({ folder }: { readonly folder: string }): readonly KnownAxis[] => {
  const latest = new Map<string, ReturnType<typeof listEntries>[number]>();
  for (const line of linesOrNone(folder)) {
    if (line.kind === 'note' || line.axis === undefined) continue;
    latest.set(JSON.stringify([line.machine, line.axis]), line);
  }
  const newest = [...latest.values()].toSorted((a, b) => b.number - a.number).slice(0, MOST_AXES);
  return newest.flatMap((line) => {
    const { number, machine, axis = '', savedAt } = line;
    const stored = entryOrDamage(folder, line);
    const reading = 'damage' in stored ? undefined : stored.reading;
    const known = reading === undefined ? undefined : anyReadingOf(reading);
    const record =
      known?.schema === 'stillband/reading@1' ? known.printRecord : known?.photos[0]?.reading.printRecord;
    return record === undefined ? [] : [{ machine, axis, entry: number, savedAt, record }];
  });
});

/** What shapers can be chosen by, the axis with the newest entry first; none where there is no logbook yet. */
export const axisChoices = answered(
  (task: {
    readonly folder: string;
    /** Entries that are offered however old they are. */
    readonly asked: readonly number[];
  }): readonly AxisChoice[] => {
    const axes = new Map<string, { decidable: EntryLine[]; newer: EntryLine[] }>();
    for (const line of linesOrNone(task.folder).toReversed()) {
      if (line.kind === 'note' || line.axis === undefined || line.result === undefined) continue;
      const key = JSON.stringify([line.machine, line.axis]);
      const known = axes.get(key) ?? { decidable: [], newer: [] };
      axes.set(key, known);
      const { decidable, newer } = known;
      if (line.result.state !== 'proposed') {
        if (decidable.length === 0 && newer.length < MOST_OFFERED) newer.push(line);
      } else if (decidable.length < MOST_OFFERED || task.asked.includes(line.number)) decidable.push(line);
    }
    return [...axes.values()].slice(0, MOST_AXES).flatMap(({ decidable: logged, newer }) => {
      // What is not as it was saved would only be refused later.
      const decidable = logged.filter((line) => !('damage' in entryOrDamage(task.folder, line)));
      const [one] = [...decidable, ...newer];
      return one?.axis === undefined ? [] : [{ machine: one.machine, axis: one.axis, decidable, newer }];
    });
  },
);

/** So many entries stand on one page of a list. */
const ENTRIES_ON_PAGE = 100;

/** What a page of the logbook's list shows. */
export interface ListedEntries {
  readonly head: string;
  /** How many entries there are in all. */
  readonly size: number;
  readonly machines: readonly string[];
  /** The newest first. */
  readonly lines: readonly EntryLine[];
  /** Why entries among these are not used, one sentence each. */
  readonly damaged: readonly string[];
  /** How many of those asked for are newer, and how many are older, than these. */
  readonly newer: number;
  readonly older: number;
}

/** A page of what a logbook holds; undefined where there is none yet. */
export const listLogbook = answered(
  (task: {
    readonly folder: string;
    readonly machine?: string;
    /** How many newer ones are left out. */
    readonly skip: number;
  }): ListedEntries | undefined => {
    const { folder, machine, skip } = task;
    const all = linesOrNone(folder);
    if (all.length === 0) return undefined;
    const asked = all.filter((line) => machine === undefined || line.machine === machine).toReversed();
    const lines = asked.slice(skip, skip + ENTRIES_ON_PAGE);
    return {
      head: formatHead(logbookHead(folder)),
      size: all.length,
      machines: machinesOf(all),
      lines,
      damaged: lines.flatMap((line) => {
        const stored = entryOrDamage(folder, line);
        return 'damage' in stored ? [stored.damage] : [];
      }),
      newer: Math.min(skip, asked.length),
      older: Math.max(0, asked.length - skip - lines.length),
    };
  },
);

function machinesOf(lines: ReturnType<typeof listEntries>): readonly string[] {
  return [...new Set(lines.flatMap((line) => line.machine ?? []))].sort();
}

/** An entry as its page shows it. */
export interface ShownEntry {
  readonly entry: Entry;
  readonly size: number;
  /** Its sheet without pictures; absent for a note, or a reading of another version's form. */
  readonly sheet?: Sheet;
}

/** One entry; its numbers are those that were saved. */
export const showEntry = answered(
  async ({ folder, number }: { readonly folder: string; readonly number: number }): Promise<ShownEntry> => {
    const { entry } = readEntry(folder, number);
    const { size } = logbookHead(folder);
    if (entry.kind === 'note') return { entry, size };
    try {
      return { entry, size, sheet: (await sheetOfEntry(folder, number, false)).sheet };
    } catch (error) {
      if (error instanceof InputError && error.code === 'readings-differ') return { entry, size };
      throw error;
    }
  },
);

/** The sheet of an entry as a file, its pictures from measuring the stored photo again. */
export const entrySheet = answered(
  async (task: {
    readonly folder: string;
    readonly number: number;
    readonly format: 'html' | 'pdf';
    readonly paper: Paper;
  }): Promise<string | Uint8Array> => {
    const { sheet } = await sheetOfEntry(task.folder, task.number);
    return task.format === 'html' ? sheetHtml(sheet, task.paper) : sheetPdf(sheet, task.paper, new Date());
  },
);

/** A stored photo, upright and shrunk; undefined where the entry has none of that number. */
export const entryPhoto = answered(
  async (task: {
    readonly folder: string;
    readonly number: number;
    /** Which of its photos, from 1. */
    readonly photo: number;
    readonly widthPx: number;
  }): Promise<Uint8Array | undefined> => {
    const { entry, folder } = readEntry(task.folder, task.number);
    const file = entry.photos?.[task.photo - 1]?.file;
    return file === undefined ? undefined : viewPhoto(storedPhoto(folder, file), task.widthPx);
  },
);

/** The history of an axis as its page shows it. */
export interface ShownTrend {
  readonly machine: string | undefined;
  readonly axis: string;
  readonly verdict: string;
  readonly advice: readonly string[];
  readonly exchanged: string | undefined;
  readonly figure: SheetFigure;
  readonly rows: readonly TrendRow[];
}

/** The history of each axis of a machine; of the machine with the latest reading unless another is named. */
export const showTrends = answered(
  (task: {
    readonly folder: string;
    readonly machine?: string;
  }): {
    readonly machines: readonly string[];
    readonly machine: string | undefined;
    readonly trends: readonly ShownTrend[];
    readonly passedOver: readonly string[];
    readonly damaged: readonly string[];
  } => {
    const lines = linesOrNone(task.folder);
    const machines = machinesOf(lines);
    const machine = task.machine ?? lines.findLast((line) => line.machine !== undefined)?.machine;
    if (lines.length === 0) return { machines, machine, trends: [], passedOver: [], damaged: [] };
    const { trends, passedOver, damaged } = logbookTrends(
      task.folder,
      machine === undefined ? {} : { machine },
    );
    return {
      machines,
      machine,
      passedOver,
      damaged,
      trends: trends.map((trend) => ({
        machine: trend.machine,
        axis: trend.axis,
        verdict: trendVerdict(trend),
        advice: trendAdvice(trend),
        exchanged: trend.exchanged,
        figure: trendFigure(trend),
        rows: trendRows(trend),
      })),
    };
  },
);

/** A logbook begins with the first reading that is saved: until then it has no entries. */
function linesOrNone(folder: string): ReturnType<typeof listEntries> {
  try {
    return listEntries(folder);
  } catch (error) {
    if (error instanceof InputError && error.code === 'logbook-missing') return [];
    throw error;
  }
}

/** A comparison as its page shows it. */
export interface ShownComparison {
  readonly sections: CompareSections;
  readonly figure?: SheetFigure;
}

/** Entries before a change beside entries after it. */
export const compareEntries = answered(
  (task: {
    readonly folder: string;
    readonly before: readonly number[];
    readonly after: readonly number[];
    readonly sameLight: boolean;
    readonly level?: number;
  }): ShownComparison => {
    const { folder, sameLight, level } = task;
    const [before, after] = [task.before, task.after].map((numbers) =>
      numbers.map((number) => readingOfEntry(folder, number)),
    );
    if (before === undefined || after === undefined) throw new RangeError('Expected two sides.');
    expectAlike(before, after);
    const comparison = compareReadings(before, after, {
      sameLight,
      ...(level === undefined ? {} : { level }),
    });
    const [one] = before.flatMap(singleReadings);
    const [other] = after.flatMap(singleReadings);
    return {
      sections: compareSections(comparison),
      ...(one === undefined || other === undefined
        ? {}
        : { figure: comparisonFigure(comparison, one, other) }),
    };
  },
);

/** Chooses shapers by stored readings. */
export const decide = answered(({ folder, entries, texts, given }: DecideTask): Decided => {
  const limits = readLimits(given);
  const readings = [
    ...entries.map((number) => {
      if (folder !== undefined && Number.isSafeInteger(number)) return readingOfEntry(folder, number);
      throw new InputError(
        'entry-missing',
        'There is no such entry in the logbook.',
        'Choose one of those that the page shows.',
      );
    }),
    ...texts.map(parseAnyReading),
  ];
  if (readings.length === 0) {
    throw new InputError('usage', 'No reading is given.', 'Choose the reading of at least one axis.');
  }
  const decision = decideShapers(readings, limits);
  return {
    decision,
    charts: decision.axes.map((axis) => (axis.state === 'chosen' ? chartsOfAxis(axis) : undefined)),
  };
});

/** What a plan is asked for with. */
export interface PlanTask {
  readonly texts: PlanTexts;
  /** Entries of the logbook that the ladder is narrowed by. */
  readonly entries: readonly number[];
  /** Folder of the logbook; absent: there is none. */
  readonly folder?: string;
}

/** Files that a plan makes. */
export type PlanFile = 'record.json' | 'checklist.html' | 'checklist.pdf' | 'tower.stl' | 'card.pdf';

function planned({ texts, entries, folder }: PlanTask): Plan {
  const earlier = entries.map((number) => {
    if (folder !== undefined) return earlierAxis(readingOfEntry(folder, number));
    throw new InputError(
      'logbook-missing',
      'There is no logbook whose entries could narrow the ladder.',
      'Start the page with a logbook (stillband serve --logbook DIR), or leave the entries away.',
    );
  });
  return makePlan({ ...planNeeds(texts), ...(earlier.length === 0 ? {} : { earlier }) });
}

/** Plans a test tower. */
export const plan = answered(planned);

/** A file of a plan, as the commands write it. */
export const planFile = answered(
  async ({
    file,
    axis,
    ...task
  }: PlanTask & { readonly file: PlanFile; readonly axis?: string }): Promise<string | Uint8Array> => {
    const made = planned(task);
    const record = made.records.find((one) => one.axis === axis) ?? made.records[0];
    if (record === undefined) throw new RangeError('Expected a plan of at least one axis.');
    switch (file) {
      case 'record.json':
        return `${JSON.stringify(record, null, 2)}\n`;
      case 'checklist.html':
        return sheetHtml(drawChecklist(made));
      case 'checklist.pdf':
        return sheetPdf(drawChecklist(made), 'a4', new Date());
      case 'tower.stl':
        return makeTower(towerOf(record)).stl;
      case 'card.pdf':
        return cardPdf(makeCard({ record }), new Date());
    }
  },
);

/** Reads a job file. */
export const readJob = answered(readJobFile);

/** Finds what would be put into a job file. */
export const planJob = answered(planJobFile);

/** Puts lines into a copy of a job file. */
export const weaveJob = answered(weaveJobFile);

/** A marker card as a file. */
export const cardFile = answered(
  async ({
    format,
    ...options
  }: CardOptions & { readonly format: 'pdf' | 'svg' }): Promise<string | Uint8Array> => {
    const card = makeCard(options);
    return format === 'pdf' ? cardPdf(card, new Date()) : cardSvg(card);
  },
);
