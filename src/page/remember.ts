import type { RawObject } from '../print/overrides.js';
import { isObject } from '../print/recordProblem.js';

/** A print that was told before. */
export interface Remembered {
  readonly machine: string;
  readonly axis: string;
  readonly record: RawObject;
}

const KEY = 'stillband.prints';
/** More would make a list that nobody reads. */
const MOST = 40;
/** What belongs to one photo or one print. */
const OF_ONE = ['facePx', 'penLineMm', 'penLinePlusMinusMm', 'printedOn', 'notes', 'title'];

/**
 * What was told before on this device.
 * @returns Newest first; nothing where the browser keeps nothing.
 */
export function remembered(): readonly Remembered[] {
  try {
    const kept: unknown = JSON.parse(localStorage.getItem(KEY) ?? '[]');
    return Array.isArray(kept) ? kept.filter(isRemembered) : [];
  } catch {
    // Private windows and full disks: the page works all the same.
    return [];
  }
}

/**
 * Keeps what was told of a print, one for each machine and axis, the newest first.
 * @param record - The record, as a reading has it.
 */
export function remember(record: RawObject): void {
  const { machine = '', axis } = record;
  if (typeof axis !== 'string' || typeof machine !== 'string') return;
  const kept = Object.fromEntries(Object.entries(record).filter(([key]) => !OF_ONE.includes(key)));
  const others = remembered().filter((one) => one.machine !== machine || one.axis !== axis);
  try {
    localStorage.setItem(KEY, JSON.stringify([{ machine, axis, record: kept }, ...others].slice(0, MOST)));
  } catch {
    // As above.
  }
}

function isRemembered(one: unknown): one is Remembered {
  return (
    isObject(one) &&
    typeof one['machine'] === 'string' &&
    typeof one['axis'] === 'string' &&
    isObject(one['record'])
  );
}
