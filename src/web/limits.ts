/** What is taken at most. */
export interface Limits {
  /** Bytes of one photo. */
  readonly bytes: number;
  /** Pixels of one photo. */
  readonly pixels: number;
  /** Photos that are kept at once. */
  readonly photos: number;
  /** Bytes of all photos that are kept or arriving; as many again are held by open jobs, and by finished ones. */
  readonly allBytes: number;
  /** Bytes of one job file. */
  readonly jobFileBytes: number;
  /** Job files that are read at once; each lies on the disk, and beside it its copy. */
  readonly jobFiles: number;
  /** How long reading or weaving one may take, ms. */
  readonly jobFileMs: number;
  /** Measurements and checks that may wait. */
  readonly waiting: number;
  /** Finished jobs of each kind that are kept. */
  readonly finished: number;
  /** How long a photo or a finished job is kept without being asked for, ms. */
  readonly keptMs: number;
  /** How long it is kept where others need its room, ms. */
  readonly spareMs: number;
  /** How long a job goes on while nobody listens, ms. */
  readonly unheardMs: number;
  /** How long a request may take to arrive as a whole, and its head, ms. */
  readonly arrivalMs: number;
  readonly headMs: number;
  /** How long a connection may say nothing while it is answered, and between requests, ms. */
  readonly silentMs: number;
  readonly idleMs: number;
  /** How long an upload may stand still, ms. */
  readonly stallMs: number;
  /** How long a job may take, ms: so long for any, and so long for each megapixel. */
  readonly jobMs: number;
  readonly jobMsPerMegapixel: number;
  /** How long somebody waits for a short task at most, ms. */
  readonly shortMs: number;
}

/** A phone of 108 megapixels writes some 30 MB; the machine may be a slow one. */
export const LIMITS: Limits = {
  bytes: 80e6,
  pixels: 120e6,
  photos: 40,
  allBytes: 400e6,
  jobFileBytes: 250e6,
  jobFiles: 2,
  jobFileMs: 100_000,
  waiting: 8,
  finished: 12,
  keptMs: 3_600_000,
  spareMs: 600_000,
  unheardMs: 10_000,
  arrivalMs: 180_000,
  headMs: 10_000,
  silentMs: 120_000,
  idleMs: 10_000,
  stallMs: 20_000,
  jobMs: 60_000,
  jobMsPerMegapixel: 10_000,
  shortMs: 100_000,
};
