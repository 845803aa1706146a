import type { CornersPx } from '../core/image.js';
import type { CardRead } from '../print/cardRead.js';
import type { RawObject } from '../print/overrides.js';
import type { PhotoCheck } from '../reading/checkSchema.js';
import type { JointReading } from '../reading/jointSchema.js';
import type { Reading } from '../reading/schema.js';
import type { HeatData } from '../report/charts/heatMap.js';
import type { HeightViewData } from '../report/charts/heightViews.js';
import type { Sheet } from '../report/sheet/sheet.js';
import type { ToldCorners } from './corners.js';

/** What the server says of itself. */
export interface Session {
  readonly version: string;
  /** Whether readings can be saved. */
  readonly logbook: boolean;
  readonly limits: { readonly bytes: number; readonly pixels: number; readonly photos: number };
  /** The newest record of each machine and axis in the logbook. */
  readonly machines: readonly {
    /** Absent where it was not named. */
    readonly machine?: string;
    readonly axis: string;
    readonly record: RawObject;
  }[];
  /** What is assumed where a field is left empty, by the name of its flag. */
  readonly assumed: Readonly<Record<string, string>>;
}

/** A photo that the server holds. */
export interface Photo {
  readonly id: string;
  readonly name: string;
  /** Of the upright photo. */
  readonly widthPx: number;
  readonly heightPx: number;
  readonly bytes: number;
  readonly card: CardRead | null;
}

/** What a job is told. */
export interface JobOrder {
  readonly kind: 'check' | 'measure';
  readonly photos: readonly string[];
  /** Arguments of the record's flags by option name, as typed. */
  readonly fields: Readonly<Record<string, string>>;
  /** A record that the fields change. */
  readonly record?: RawObject;
  /** Of photos whose face is not to be found by itself, by their ids. */
  readonly cornersOf?: Readonly<Record<string, ToldCorners>>;
  readonly spacingOnly?: boolean;
  readonly was?: string;
  readonly cameraStill?: boolean;
}

/** What a check gives. */
export interface CheckResult {
  readonly check: PhotoCheck;
  /** As the command line tells it, the verdict in the first line. */
  readonly text: string;
  /** Where the face was found. */
  readonly corners: CornersPx | null;
}

/** What is drawn of a reading beside what stands in it. */
export interface ResultView {
  /** The flattened face, leading corner at the left. */
  readonly faceDataUri?: string;
  readonly heat?: HeatData;
  /** Profile and spectrum of each height, from the bottom up. */
  readonly heights: readonly HeightViewData[];
}

/** What a measurement gives. */
export interface MeasureResult {
  readonly reading: Reading | JointReading;
  readonly exitCode: number;
  /** As the command line tells it. */
  readonly text: string;
  readonly sheet: Sheet;
  readonly view: ResultView;
}

/** Where a job stands. */
export type JobState =
  | { readonly state: 'queued'; readonly position: number }
  | { readonly state: 'running' }
  /** The connection is lost; the browser tries again by itself. */
  | { readonly state: 'unheard' };

/** A reading that was saved. */
export interface Saved {
  readonly entry: number;
  /** To keep elsewhere. */
  readonly head: string;
  /** What the logbook held already that the user should know of. */
  readonly notes: readonly string[];
}

/** A mistake or a failure as the server tells it. */
export class Problem extends Error {
  override readonly name = 'Problem';
  readonly code: string;
  readonly advice: string;
  /** The field of the print record it is about, as a path. */
  readonly field: string | undefined;

  /**
   * @param told - What the server says.
   */
  constructor(told: {
    readonly code: string;
    readonly message: string;
    readonly advice: string;
    readonly field?: string | undefined;
  }) {
    super(told.message);
    this.code = told.code;
    this.advice = told.advice;
    this.field = told.field;
  }
}

/** A request from another site cannot carry it without being asked about it first. */
const OURS = { 'x-stillband': '1' } as const;

/**
 * Asks the server what it can do.
 * @returns Its session.
 * @throws {Problem} When it does not answer.
 */
export async function session(): Promise<Session> {
  return (await asked('/api/session')) as Session;
}

/**
 * Sends a photo.
 * @param file - The photo.
 * @param progress - Takes the share that has been sent, 0 to 1.
 * @param signal - Cancels it.
 * @returns What the server holds.
 * @throws {Problem} When the photo cannot be used, the server does not answer, or it was cancelled.
 */
export function sendPhoto(
  file: File,
  progress: (share: number) => void,
  signal: AbortSignal,
): Promise<Photo> {
  // fetch tells nothing of how much was sent.
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.open('POST', '/api/photos');
    for (const [name, value] of Object.entries(OURS)) request.setRequestHeader(name, value);
    request.responseType = 'json';
    request.upload.addEventListener('progress', ({ loaded, total, lengthComputable }) => {
      if (lengthComputable) progress(loaded / total);
    });
    request.addEventListener('load', () => {
      if (request.status === 201) resolve((request.response as { photo: Photo }).photo);
      else reject(problemOf(request.status, request.response));
    });
    request.addEventListener('error', () => {
      reject(noAnswer());
    });
    request.addEventListener('abort', () => {
      reject(cancelled());
    });
    signal.addEventListener('abort', () => {
      request.abort();
    });
    const form = new FormData();
    form.append('photo', file, file.name);
    request.send(form);
  });
}

/**
 * Has the server forget a photo.
 * @param id - The photo.
 */
export function forgetPhoto(id: string): void {
  // It is forgotten by itself after a while, so nothing depends on the answer.
  void fetch(`/api/photos/${id}`, { method: 'DELETE', headers: OURS }).catch(() => undefined);
}

/**
 * A photo as it is shown.
 * @param id - The photo.
 * @param widthPx - Width that is enough.
 * @returns Its address.
 */
export function viewOf(id: string, widthPx: number): string {
  return `/api/photos/${id}/view.jpg?width=${widthPx}`;
}

/**
 * Checks one photo.
 * @param order - What is asked.
 * @param signal - Cancels it.
 * @returns What was found.
 * @throws {Problem} When something told cannot be used, or it was cancelled.
 */
export async function check(order: Omit<JobOrder, 'kind'>, signal: AbortSignal): Promise<CheckResult> {
  return (await job({ ...order, kind: 'check' }, () => undefined, signal)).result as CheckResult;
}

/**
 * Measures photos.
 * @param order - What is asked.
 * @param told - Takes where the job stands.
 * @param signal - Cancels it.
 * @returns The job's id and its result.
 * @throws {Problem} When something told cannot be used, the server is busy, or it was cancelled.
 */
export async function measure(
  order: Omit<JobOrder, 'kind'>,
  told: (state: JobState) => void,
  signal: AbortSignal,
): Promise<{ readonly id: string; readonly result: MeasureResult }> {
  const { id, result } = await job({ ...order, kind: 'measure' }, told, signal);
  return { id, result: result as MeasureResult };
}

/**
 * Saves a job's reading in the logbook.
 * @param id - The job.
 * @param what - A note, what was changed before, and whether the place may stay in the photo.
 * @returns The entry.
 * @throws {Problem} When it cannot be saved.
 */
export async function save(
  id: string,
  what: { readonly note?: string; readonly changed?: readonly string[]; readonly keepPosition?: boolean },
): Promise<Saved> {
  return (await asked(`/api/jobs/${id}/save`, what)) as Saved;
}

/**
 * The print record that a form tells, complete and checked.
 * @param told - Record and fields.
 * @returns The record as a file holds it.
 * @throws {Problem} When something is missing or impossible.
 */
export async function recordOf(
  told: Pick<JobOrder, 'fields' | 'record' | 'spacingOnly'>,
): Promise<RawObject> {
  return ((await asked('/api/record', told)) as { record: RawObject }).record;
}

/**
 * All that is wrong with what a form tells so far; what is missing is no mistake.
 * @param told - Record and fields.
 * @returns A problem for each field.
 * @throws {Problem} When the server does not answer.
 */
export async function faultsOf(
  told: Pick<JobOrder, 'fields' | 'record' | 'spacingOnly'>,
): Promise<readonly Problem[]> {
  const answer = (await asked('/api/record/faults', told)) as {
    faults: readonly ConstructorParameters<typeof Problem>[0][];
  };
  return answer.faults.map((one) => new Problem(one));
}

async function job(
  order: JobOrder,
  told: (state: JobState) => void,
  signal: AbortSignal,
): Promise<{ readonly id: string; readonly result: unknown }> {
  const { job: started } = (await asked('/api/jobs', order, signal)) as { job: { id: string } };
  await ended(started.id, told, signal);
  const { result } = (await asked(`/api/jobs/${started.id}`, undefined, signal)) as { result: unknown };
  return { id: started.id, result };
}

/** Waits for a job's end; one that is cancelled is taken back from the server. */
function ended(id: string, told: (state: JobState) => void, signal: AbortSignal): Promise<void> {
  return new Promise((resolve, reject) => {
    const events = new EventSource(`/api/jobs/${id}/events`);
    const finish = (end: () => void) => {
      events.close();
      signal.removeEventListener('abort', cancel);
      end();
    };
    const cancel = () => {
      void fetch(`/api/jobs/${id}`, { method: 'DELETE', headers: OURS }).catch(() => undefined);
      finish(() => {
        reject(cancelled());
      });
    };
    if (signal.aborted) {
      cancel();
      return;
    }
    signal.addEventListener('abort', cancel);
    events.addEventListener('queued', ({ data }: MessageEvent<string>) => {
      told({ state: 'queued', ...(JSON.parse(data) as { position: number }) });
    });
    events.addEventListener('running', () => {
      told({ state: 'running' });
    });
    events.addEventListener('done', () => {
      finish(resolve);
    });
    events.addEventListener('failed', ({ data }: MessageEvent<string>) => {
      finish(() => {
        reject(problemOf(0, JSON.parse(data)));
      });
    });
    events.addEventListener('error', () => {
      // While the browser tries again by itself, nothing is lost.
      if (events.readyState !== EventSource.CLOSED) {
        told({ state: 'unheard' });
        return;
      }
      // It was answered that there is no such job: a job that nobody hears of is ended.
      finish(() => {
        reject(unheard());
      });
    });
  });
}

async function asked(path: string, body?: unknown, signal?: AbortSignal): Promise<unknown> {
  let response: Response;
  let answer: unknown;
  try {
    response = await fetch(path, {
      headers: body === undefined ? OURS : { ...OURS, 'content-type': 'application/json' },
      ...(body === undefined ? {} : { method: 'POST', body: JSON.stringify(body) }),
      ...(signal === undefined ? {} : { signal }),
    });
    answer = await response.json();
  } catch {
    throw signal?.aborted === true ? cancelled() : noAnswer();
  }
  if (!response.ok) throw problemOf(response.status, answer);
  return answer;
}

function problemOf(status: number, answer: unknown): Problem {
  const told = (answer as { error?: ConstructorParameters<typeof Problem>[0] } | null | undefined)?.error;
  if (told !== undefined) return new Problem(told);
  return new Problem({
    code: 'internal',
    message: `The server answered with status ${status}.`,
    advice: 'Try again; what you have typed and placed is still here.',
  });
}

function noAnswer(): Problem {
  return new Problem({
    code: 'no-answer',
    message: 'stillband does not answer.',
    advice: 'See whether it still runs and this device is on the same network, then try again.',
  });
}

function unheard(): Problem {
  return new Problem({
    code: 'unheard',
    message: 'The measurement was ended, since this page was not heard of for a while.',
    advice: 'Measure again, and keep the page in view: all that you have typed and placed is still here.',
  });
}

function cancelled(): Problem {
  return new Problem({ code: 'cancelled', message: 'Cancelled.', advice: 'Nothing was lost.' });
}
