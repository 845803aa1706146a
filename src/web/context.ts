import type { Access } from './access.js';
import type { JobFiles } from './jobFiles.js';
import type { Jobs } from './jobs.js';
import type { Limits } from './limits.js';
import type { PhotoStore } from './photos.js';
import type { MeasuredParts, PhotoFile, SaveTask } from './worker.js';
import type { Workers } from './workers.js';

/** What a finished measurement keeps, so that it can be downloaded and saved. */
export interface MeasuredResult {
  readonly kind: 'measure';
  readonly parts: MeasuredParts;
  readonly photos: readonly PhotoFile[];
  readonly asked: SaveTask['asked'];
  /** Where it was saved. */
  readonly saved?: {
    readonly entry: number;
    readonly head: string;
    readonly notes: readonly string[];
  };
}

/** What a finished check keeps: JSON. */
export interface CheckedResult {
  readonly kind: 'check';
  readonly json: string;
}

/** What the routes share. */
export interface WebContext {
  readonly workers: Workers;
  readonly photos: PhotoStore;
  readonly jobs: Jobs<MeasuredResult | CheckedResult>;
  readonly jobFiles: JobFiles;
  readonly limits: Limits;
  readonly access: Access;
  /** Folder of the logbook; undefined where none was given. */
  readonly logbook: string | undefined;
}
