import { randomUUID } from 'node:crypto';
import {
  closeSync,
  fsyncSync,
  linkSync,
  openSync,
  readFileSync,
  renameSync,
  rmSync,
  statSync,
  writeSync,
} from 'node:fs';
import { hostname } from 'node:os';
import { join } from 'node:path';
import { InputError } from '../core/errors.js';
import { syncFolder } from './durable.js';
import { NAMES, PART } from './layout.js';
import { codeOf } from './place.js';

/** Who holds a lock. */
interface Holder {
  readonly pid: number;
  /** When the process began, as far as the system tells; a number may be given to another process later. */
  readonly began: string;
  readonly host: string;
  readonly token: string;
}

/** How a lock was got. */
export interface Lock {
  /** The process that held it before had ended without giving it back: what it was doing may be half done. */
  readonly afterCrash: boolean;
  /** Whether it is still held: nobody has taken it away. */
  readonly isHeld: () => boolean;
  readonly release: () => void;
}

/** In place of when a process began, where the system does not tell. */
const UNKNOWN = 'unknown';

/** How long to wait for another writer, which needs some hundredths of a second. */
const PATIENCE_MS = 10_000;
const STEP_MS = 25;
/** A lock without content is one whose writer was stopped in between; it takes no longer than this to fill one. */
const FILLED_AFTER_MS = 5_000;

/**
 * Takes the lock that writers need, waiting for another writer to be done. One that was left by a process that has
 * ended is taken over.
 * @param folder - The logbook's folder; it exists.
 * @param patienceMs - How long to wait.
 * @returns The lock.
 * @throws {InputError} `logbook-locked` when another writer does not get done.
 * @throws {Error} The system's, when the folder cannot be written to.
 */
export async function takeLock(folder: string, patienceMs: number = PATIENCE_MS): Promise<Lock> {
  const path = join(folder, NAMES.lock);
  const self: Holder = {
    pid: process.pid,
    began: beganAt(process.pid) ?? UNKNOWN,
    host: hostname(),
    token: randomUUID(),
  };
  let afterCrash = false;
  for (let waitedMs = 0; ; waitedMs += STEP_MS) {
    if (create(folder, path, JSON.stringify(self))) break;
    const found = readIf(path);
    const holder = found === undefined ? undefined : holderOf(found);
    if (found !== undefined && isLeft(path, found, holder) && removeLeft(folder, path, found)) {
      afterCrash = true;
      continue;
    }
    if (waitedMs >= patienceMs) throw lockedError(folder, holder);
    await new Promise((resolve) => setTimeout(resolve, STEP_MS));
  }
  const isHeld = (): boolean => holderOf(readIf(path) ?? '')?.token === self.token;
  return {
    afterCrash,
    isHeld,
    release: () => {
      if (isHeld()) rmSync(path, { force: true });
    },
  };
}

/**
 * Whether somebody is writing, or was stopped while writing.
 * @param folder - The logbook's folder.
 * @returns True when there is a lock.
 */
export function isLocked(folder: string): boolean {
  return readIf(join(folder, NAMES.lock)) !== undefined;
}

/** The lock comes into being with its content; false when there is one already. */
function create(folder: string, path: string, content: string): boolean {
  const part = join(folder, `${PART}lock-${randomUUID()}`);
  try {
    fill(part, content);
    linkSync(part, path);
  } catch (error) {
    const code = codeOf(error);
    // The part may have been taken for something left behind, and cleared away.
    if (code === 'EEXIST' || code === 'ENOENT') return false;
    // A disk without links to files, as in cameras and sticks: the lock is filled after it is made.
    if (!['EPERM', 'ENOTSUP', 'EOPNOTSUPP', 'ENOSYS'].includes(code)) throw error;
    try {
      fill(path, content);
    } catch (second) {
      if (codeOf(second) === 'EEXIST') return false;
      throw second;
    }
  } finally {
    rmSync(part, { force: true });
  }
  syncFolder(folder);
  return true;
}

function fill(path: string, content: string): void {
  const file = openSync(path, 'wx');
  try {
    writeSync(file, content);
    fsyncSync(file);
  } finally {
    closeSync(file);
  }
}

/**
 * Takes away a lock that was left, unless somebody was quicker: what was moved aside is looked at again, and put back
 * when it is not the one that was found.
 */
function removeLeft(folder: string, path: string, found: string): boolean {
  const aside = join(folder, `${PART}lock-${randomUUID()}`);
  try {
    renameSync(path, aside);
  } catch (error) {
    if (codeOf(error) === 'ENOENT') return false;
    throw error;
  }
  const isSame = readIf(aside) === found;
  try {
    if (!isSame) linkSync(aside, path);
  } catch {
    // A third writer has come in between. Whose lock this was notices before it gives its entry a name.
  }
  rmSync(aside, { force: true });
  return isSame;
}

function isLeft(path: string, found: string, holder: Holder | undefined): boolean {
  if (holder === undefined) {
    if (found !== '') return true; // No writer writes such a thing.
    try {
      return Math.abs(Date.now() - statSync(path).mtimeMs) > FILLED_AFTER_MS;
    } catch {
      return false;
    }
  }
  // Whether a process of another computer still runs cannot be known from here.
  if (holder.host !== hostname()) return false;
  if (!isAlive(holder.pid)) return true;
  const began = beganAt(holder.pid);
  return began !== undefined && holder.began !== UNKNOWN && began !== holder.began;
}

function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return codeOf(error) === 'EPERM'; // It runs, as another user.
  }
}

/** When a process began: boot and clock ticks since, where the system has /proc (proc(5), field 22 of stat). */
function beganAt(pid: number): string | undefined {
  const stat = readIf(`/proc/${String(pid)}/stat`);
  const boot = readIf('/proc/sys/kernel/random/boot_id')?.trim();
  // The program's name, in brackets, may hold spaces and brackets itself.
  const ticks = stat?.slice(stat.lastIndexOf(')') + 2).split(' ')[19];
  // A process that has ended but was not yet asked about by its parent does nothing any more.
  const state = stat?.charAt(stat.lastIndexOf(')') + 2);
  if (state === 'Z') return 'ended';
  return ticks === undefined || boot === undefined ? undefined : `${boot} ${ticks}`;
}

function holderOf(text: string): Holder | undefined {
  try {
    const raw = JSON.parse(text) as Partial<Holder> | null;
    const { pid, began, host, token } = raw ?? {};
    return typeof pid === 'number' &&
      Number.isInteger(pid) &&
      pid > 0 &&
      typeof began === 'string' &&
      typeof host === 'string' &&
      typeof token === 'string'
      ? { pid, began, host, token }
      : undefined;
  } catch {
    return undefined;
  }
}

function lockedError(folder: string, holder: Holder | undefined): InputError {
  const elsewhere = holder !== undefined && holder.host !== hostname();
  const by =
    holder === undefined
      ? 'another process'
      : `process ${String(holder.pid)}${elsewhere ? ` of the computer ${holder.host}` : ''}`;
  // Where the system does not tell when a process began, its number may be another one's by now.
  const isSure =
    holder !== undefined && !elsewhere && holder.began !== UNKNOWN && beganAt(holder.pid) === holder.began;
  const left = `if ${elsewhere ? 'nothing runs there any more' : 'no stillband runs any more'}, remove ${join(folder, NAMES.lock)}`;
  return new InputError(
    'logbook-locked',
    `The logbook ${folder} is being written by ${by}.`,
    isSure ? 'Try again when it is done.' : `Try again when it is done; ${left}.`,
  );
}

function readIf(path: string): string | undefined {
  try {
    return readFileSync(path, 'utf8');
  } catch {
    return undefined;
  }
}
