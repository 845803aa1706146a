import type { CornersPx, PointPx } from '../core/image.js';

/** Names of the corners in their order. */
export const CORNER_NAMES = ['top left', 'top right', 'bottom right', 'bottom left'] as const;
/** Number of a corner in that order. */
export type CornerIndex = 0 | 1 | 2 | 3;
/** All of them. */
export const CORNER_INDICES: readonly CornerIndex[] = [0, 1, 2, 3];

/** Corners of a face, clockwise from its top left; null stands for one that is to be found. */
export type ToldCorners = readonly [PointPx | null, PointPx | null, PointPx | null, PointPx | null];

/** Where the corners of a face are, and who says so. */
export type Placement =
  /** The face is found by itself. */
  | { readonly by: 'search' }
  /** The face is found by itself, with some corners told. */
  | { readonly by: 'hints'; readonly hints: ToldCorners }
  /** All corners that are there were placed by hand and are taken as they are. */
  | { readonly by: 'hand'; readonly at: ToldCorners };

/** One state of the corners over a photo. */
export interface Corners {
  /** What the search found; null where it did not. */
  readonly found: CornersPx | null;
  readonly placement: Placement;
}

const NONE: ToldCorners = [null, null, null, null];

/** Before anything was looked for. */
export const UNSEEN: Corners = { found: null, placement: { by: 'search' } };

/**
 * The corners as they are drawn.
 * @param corners - Their state.
 * @returns One point for each; null where there is none.
 */
export function drawnCorners({ found, placement }: Corners): ToldCorners {
  if (placement.by === 'hand') return placement.at;
  return found ?? (placement.by === 'hints' ? placement.hints : NONE);
}

/**
 * What a measurement is told of the corners.
 * @param corners - Their state.
 * @returns The corners told; null where the face is to be found.
 */
export function toldCorners({ placement }: Corners): ToldCorners | null {
  if (placement.by === 'search') return null;
  const told = placement.by === 'hand' ? placement.at : placement.hints;
  return told.every((one) => one === null) ? null : told;
}

/**
 * Places one corner; the others stay where they are drawn, and all are taken as they are from then on.
 * @param corners - Their state.
 * @param index - Which corner.
 * @param point - Where to; null takes it away.
 * @returns The new state.
 */
export function placed(corners: Corners, index: CornerIndex, point: PointPx | null): Corners {
  const at = drawnCorners(corners).map((one, i) => (i === index ? point : one));
  return { ...corners, placement: { by: 'hand', at: at as unknown as ToldCorners } };
}

/**
 * What becomes of the corners when the search has an answer.
 * @param corners - Their state when it was asked; corners placed by hand helped it.
 * @param found - What it found; null for nothing.
 * @returns The new state: where nothing was found, corners placed by hand stay.
 */
export function answered(corners: Corners, found: CornersPx | null): Corners {
  const told = toldCorners(corners);
  if (told === null) return { found, placement: { by: 'search' } };
  if (told.every((one) => one !== null)) return { ...corners };
  return { found, placement: found === null ? { by: 'hand', at: told } : { by: 'hints', hints: told } };
}

/** What can be undone and done again. */
export interface History<State> {
  readonly past: readonly State[];
  readonly now: State;
  readonly future: readonly State[];
}

/**
 * Goes on to a new state.
 * @param history - What was.
 * @param now - What is.
 * @returns The longer history.
 */
export function onTo<State>({ past, now: before }: History<State>, now: State): History<State> {
  return { past: [...past, before], now, future: [] };
}

/**
 * One step back.
 * @param history - What was.
 * @returns The history; as it was where nothing can be undone.
 */
export function undone<State>(history: History<State>): History<State> {
  const now = history.past.at(-1);
  if (now === undefined) return history;
  return { past: history.past.slice(0, -1), now, future: [history.now, ...history.future] };
}

/**
 * One step forward again.
 * @param history - What was.
 * @returns The history; as it was where nothing was undone.
 */
export function redone<State>(history: History<State>): History<State> {
  const [now, ...future] = history.future;
  if (now === undefined) return history;
  return { past: [...history.past, history.now], now, future };
}
