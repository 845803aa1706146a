import { InputError } from '../core/errors.js';
import type { Mm, MmPerS } from '../core/units.js';
import { MM_PER_INCH } from '../core/units.js';

/** Bytes of a file, piece by piece. */
export type Chunks = AsyncIterable<Uint8Array> | Iterable<Uint8Array>;

/**
 * The longest line that is read, bytes: a thousand times a usual one, and a bound to what a file of one line costs.
 * @internal
 */
export const LONGEST_LINE = 65_536;

/** Coordinates beyond are no printer's, mm; sums of smaller ones keep a ten-millionth of a millimetre. */
const FARTHEST_MM: Mm = 1e6;

/** One move, from where the nozzle is to where the line sends it. The same object serves each move: copy what is kept. */
export interface Motion {
  /** Number of its line, counted from 1. */
  line: number;
  /** Where its line begins, bytes from the start of the file. */
  offset: number;
  /** The line tells a feed move (G1, G2, G3), not a rapid one (G0). */
  feed: boolean;
  /** The line tells an arc (G2, G3), of which only the end is known here. */
  arc: boolean;
  fromXMm: Mm;
  fromYMm: Mm;
  fromZMm: Mm;
  toXMm: Mm;
  toYMm: Mm;
  toZMm: Mm;
  /** Speed that holds for the move; 0 where none was told yet. */
  speedMmPerS: MmPerS;
  /** The number of the line's E word; NaN without one. */
  extruder: number;
}

/** What is told of each line. */
export interface LineListener {
  /** A move, also one of no length. */
  readonly onMove: (motion: Readonly<Motion>) => void;
  /** The extruder's position is set without a move (G92 with an E word). */
  readonly onExtruderSet: (position: number) => void;
  /** A line that is neither a move nor empty: its bytes without the line's end, valid during the call only. */
  readonly onOther?: (bytes: Uint8Array, line: number) => void;
}

/** What the whole file turned out to be. */
export interface LinesRead {
  readonly bytes: number;
  readonly lines: number;
  /** Lengths were told in inches somewhere (G20); they are converted. */
  readonly inches: boolean;
  /** Lines with a number in front (N): lines put between them have none. */
  readonly numbered: boolean;
  /** Some move tells a Z word. */
  readonly tellsHeight: boolean;
}

const [TAB, NEWLINE, RETURN, SPACE, QUOTE_OPEN, QUOTE_CLOSE, STAR, PLUS, MINUS, POINT, SLASH, SEMICOLON] = [
  9, 10, 13, 32, 40, 41, 42, 43, 45, 46, 47, 59,
] as const;
const [A, E, F, G, L_M, L_N, L_T, X, Y, Z] = [65, 69, 70, 71, 77, 78, 84, 88, 89, 90] as const;
const SMALL_E = 101;
const BYTE_ORDER_MARK = [0xef, 0xbb, 0xbf] as const;

/** Powers of ten that a double holds exactly, so that digits ÷ power is rounded once: as exact as Number(text). */
const POWERS = Array.from({ length: 16 }, (_, i) => 10 ** i);
const MOST_DIGITS = 15;

/**
 * Reads a job file (words after ISO 6983: G0 to G3, G20, G21, G28, G90 to G92, X, Y, Z, F and E; all others are passed
 * over) and tells each move. Only one line is held at a time.
 *
 * The nozzle begins at 0, and G28 sends the axes named back there. Feed is per minute.
 * @param chunks - The file's bytes.
 * @param listener - Is told what the lines say.
 * @returns What is known of the file as a whole.
 * @throws {InputError} `job-not-text`, `job-line` or `job-unsupported`, with the line's number.
 */
export async function readLines(chunks: Chunks, listener: LineListener): Promise<LinesRead> {
  const reader = new LineReader(listener);
  for await (const chunk of chunks) reader.push(chunk);
  return reader.end();
}

class LineReader {
  readonly #listener: LineListener;
  readonly #motion: Motion = {
    line: 0,
    offset: 0,
    feed: false,
    arc: false,
    fromXMm: 0,
    fromYMm: 0,
    fromZMm: 0,
    toXMm: 0,
    toYMm: 0,
    toZMm: 0,
    speedMmPerS: 0,
    extruder: Number.NaN,
  };
  /** What is read of the file and not used yet, at the beginning of a buffer that serves all pieces. */
  #room: Uint8Array = new Uint8Array(0);
  #kept = 0;
  /** Bytes of the file before what is being looked at. */
  #before = 0;
  #line = 0;
  #bytes: Uint8Array = this.#room;
  #at = 0;
  #to = 0;
  /** The last word's letter is a small one. */
  #small = false;
  /** Where the nozzle is, and what G92 has added to the words' numbers. */
  #x = 0;
  #y = 0;
  #z = 0;
  #shiftX = 0;
  #shiftY = 0;
  #shiftZ = 0;
  #speed = 0;
  #relative = false;
  #unit = 1;
  #mode = -1;
  #inches = false;
  #numbered = false;
  #tellsHeight = false;

  constructor(listener: LineListener) {
    this.#listener = listener;
  }

  push(chunk: Uint8Array): void {
    if (this.#before === 0 && this.#kept === 0) checkBeginning(chunk);
    const zero = chunk.indexOf(0);
    if (zero >= 0) {
      throw new InputError(
        'job-not-text',
        `The job file has a zero byte at ${String(this.#before + this.#kept + zero)}, which no text has.`,
        'Give the job as plain text (ASCII or UTF-8), not packed, nor in UTF-16 or a binary form.',
      );
    }
    const length = this.#kept + chunk.length;
    if (this.#room.length < length) {
      const room = new Uint8Array(length + LONGEST_LINE);
      room.set(this.#room.subarray(0, this.#kept));
      this.#room = room;
    }
    this.#room.set(chunk, this.#kept);
    const bytes = this.#room.subarray(0, length);
    let from = 0;
    for (;;) {
      const end = bytes.indexOf(NEWLINE, from);
      if (end < 0) break;
      this.#readLine(bytes, from, end);
      from = end + 1;
    }
    if (bytes.length - from > LONGEST_LINE) throw this.#tooLong();
    this.#room.copyWithin(0, from, length);
    this.#kept = length - from;
    this.#before += from;
  }

  end(): LinesRead {
    const bytes = this.#before + this.#kept;
    if (bytes === 0) {
      throw new InputError('file-empty', 'The job file is empty.', 'Give the file that the machine prints.');
    }
    if (this.#kept > 0) this.#readLine(this.#room, 0, this.#kept);
    return {
      bytes,
      lines: this.#line,
      inches: this.#inches,
      numbered: this.#numbered,
      tellsHeight: this.#tellsHeight,
    };
  }

  #readLine(bytes: Uint8Array, from: number, end: number): void {
    this.#line += 1;
    if (end - from > LONGEST_LINE) throw this.#tooLong();
    const to = end > from && bytes[end - 1] === RETURN ? end - 1 : end;
    this.#bytes = bytes;
    const marked = this.#line === 1 && BYTE_ORDER_MARK.every((byte, i) => bytes[from + i] === byte);
    const start = marked ? from + BYTE_ORDER_MARK.length : from;
    this.#at = start;
    this.#to = to;
    if (!this.#readWords(start) && to > start) {
      this.#listener.onOther?.(bytes.subarray(start, to), this.#line);
    }
  }

  /** Reads the words of a line; false when they are no move. */
  #readWords(from: number): boolean {
    let motion = -1;
    let parameters = false;
    let homing = false;
    let setting = false;
    let x = Number.NaN;
    let y = Number.NaN;
    let z = Number.NaN;
    let e = Number.NaN;
    let f = Number.NaN;
    let homed = 0;
    let words = 0;
    for (;;) {
      const letter = this.#nextLetter();
      if (letter === 0) break;
      const value = letter < A || letter > Z ? Number.NaN : this.#number(homing);
      if (Number.isNaN(value)) {
        if (homing && letter >= X && letter <= Z) {
          homed |= 1 << (letter - X);
          continue;
        }
        // A line of a move must be understood; others may have words of any kind.
        const begun = motion >= 0 || !Number.isNaN(x) || !Number.isNaN(y) || !Number.isNaN(z);
        if (begun && !parameters) throw this.#unread(letter);
        return false;
      }
      switch (letter) {
        case G:
          if (value === 0 || value === 1 || value === 2 || value === 3) motion = value;
          else if (value === 90) this.#relative = false;
          else if (value === 91) this.#relative = true;
          else if (value === 21) this.#unit = 1;
          else if (value === 20) {
            this.#unit = MM_PER_INCH;
            this.#inches = true;
          } else if (value === 28) homing = true;
          else if (value === 92) setting = true;
          else if (value === 93 || value === 95) throw this.#otherFeed(value);
          else parameters = true;
          break;
        case X:
          x = value;
          homed |= 1;
          break;
        case Y:
          y = value;
          homed |= 2;
          break;
        case Z:
          z = value;
          homed |= 4;
          break;
        case E:
          e = value;
          break;
        case F:
          f = value;
          break;
        case L_N:
          this.#numbered ||= words === 0;
          continue;
        case L_M:
        case L_T:
          parameters = true;
          break;
      }
      words += 1;
    }
    if (homing) {
      this.#home(homed);
      return false;
    }
    if (setting) {
      this.#setPosition(x, y, z, e);
      return false;
    }
    if (motion >= 0) this.#mode = motion;
    else if (parameters || this.#mode < 0) return false;
    const moves = !Number.isNaN(x) || !Number.isNaN(y) || !Number.isNaN(z) || !Number.isNaN(e);
    if (!moves && Number.isNaN(f)) return false;
    if (!Number.isNaN(f)) {
      if (!(f >= 0)) throw this.#badLine(`a speed of ${String(f)}`);
      this.#speed = (f * this.#unit) / 60;
    }
    if (moves) this.#move(this.#before + from, x, y, z, e);
    return true;
  }

  #move(offset: number, x: number, y: number, z: number, e: number): void {
    const motion = this.#motion;
    motion.line = this.#line;
    motion.offset = offset;
    motion.feed = this.#mode !== 0;
    motion.arc = this.#mode > 1;
    motion.fromXMm = this.#x;
    motion.fromYMm = this.#y;
    motion.fromZMm = this.#z;
    if (!Number.isNaN(x)) this.#x = this.#target(x, this.#x, this.#shiftX);
    if (!Number.isNaN(y)) this.#y = this.#target(y, this.#y, this.#shiftY);
    if (!Number.isNaN(z)) {
      this.#z = this.#target(z, this.#z, this.#shiftZ);
      this.#tellsHeight = true;
    }
    motion.toXMm = this.#x;
    motion.toYMm = this.#y;
    motion.toZMm = this.#z;
    motion.speedMmPerS = this.#speed;
    motion.extruder = e;
    this.#listener.onMove(motion);
  }

  #target(word: number, now: Mm, shift: Mm): Mm {
    const mm = word * this.#unit;
    const target = this.#relative ? now + mm : mm + shift;
    if (Math.abs(target) <= FARTHEST_MM) return target;
    throw this.#badLine(`a place ${String(target)} mm away`);
  }

  #home(axes: number): void {
    const all = axes === 0;
    if (all || (axes & 1) !== 0) this.#x = this.#shiftX = 0;
    if (all || (axes & 2) !== 0) this.#y = this.#shiftY = 0;
    if (all || (axes & 4) !== 0) this.#z = this.#shiftZ = 0;
  }

  /** G92 gives the place where the nozzle stands other numbers; it stays where it is. */
  #setPosition(x: number, y: number, z: number, e: number): void {
    if (!Number.isNaN(x)) this.#shiftX = this.#x - x * this.#unit;
    if (!Number.isNaN(y)) this.#shiftY = this.#y - y * this.#unit;
    if (!Number.isNaN(z)) this.#shiftZ = this.#z - z * this.#unit;
    if (!Number.isNaN(e)) this.#listener.onExtruderSet(e);
  }

  /** The next word's letter in capitals, any other character as it is; 0 at the end of what counts. */
  #nextLetter(): number {
    const bytes = this.#bytes;
    while (this.#at < this.#to) {
      const byte = bytes[this.#at] ?? 0;
      this.#at += 1;
      if (byte === SPACE || byte === TAB) continue;
      if (byte === SEMICOLON || byte === STAR) return 0;
      if (byte === QUOTE_OPEN) {
        const close = bytes.indexOf(QUOTE_CLOSE, this.#at);
        if (close < 0 || close >= this.#to) return 0;
        this.#at = close + 1;
        continue;
      }
      // A block that the operator may skip (ISO 6983) counts.
      if (byte === SLASH) continue;
      if (byte === RETURN) {
        throw new InputError(
          'job-not-text',
          `Line ${String(this.#line)} of the job file holds a carriage return that ends no line.`,
          'Save the job with lines that end in LF or CR LF.',
        );
      }
      this.#small = byte >= 97 && byte <= 122;
      return this.#small ? byte - 32 : byte;
    }
    return 0;
  }

  /** The number of a word; NaN where none stands. */
  #number(optional: boolean): number {
    const bytes = this.#bytes;
    const to = this.#to;
    let at = this.#at;
    while (at < to && (bytes[at] === SPACE || bytes[at] === TAB)) at += 1;
    const start = at;
    const sign = bytes[at];
    if (sign === MINUS || sign === PLUS) at += 1;
    let digits = 0;
    let value = 0;
    let decimals = -1;
    for (; at < to; at += 1) {
      const byte = bytes[at] ?? 0;
      if (byte >= 48 && byte <= 57) {
        value = value * 10 + (byte - 48);
        digits += 1;
        if (decimals >= 0) decimals += 1;
      } else if (byte === POINT && decimals < 0) decimals = 0;
      else break;
    }
    if (digits === 0) {
      // G28 names axes without a number: what follows is the next word.
      if (!optional) this.#at = at;
      return Number.NaN;
    }
    // Behind a capital letter "1e9" is no E word but a thousand million, and ISO 6983 knows no exponents.
    if (bytes[at] === SMALL_E && !this.#small) throw this.#badLine('a number with an exponent');
    this.#at = at;
    if (digits > MOST_DIGITS) value = Number(asciiOf(bytes, start, at).replace(/^[+-]/, ''));
    else if (decimals > 0) value /= POWERS[decimals] ?? 1;
    if (value === Infinity) throw this.#badLine('a number beyond all measure');
    return sign === MINUS ? -value : value;
  }

  #tooLong(): InputError {
    return new InputError(
      'job-line',
      `Line ${String(this.#line + 1)} of the job file is longer than ${String(LONGEST_LINE)} bytes.`,
      'Give the job as plain text with one command in each line.',
    );
  }

  #unread(letter: number): InputError {
    const what =
      letter >= A && letter <= Z ? `no number behind ${String.fromCharCode(letter)}` : 'a word that is none';
    return this.#badLine(what);
  }

  #badLine(what: string): InputError {
    return new InputError(
      'job-line',
      `Line ${String(this.#line)} of the job file tells a move with ${what}.`,
      'Correct that line, or write the job anew: each word is a letter and a plain decimal number, like X12.5.',
    );
  }

  #otherFeed(value: number): InputError {
    return new InputError(
      'job-unsupported',
      `Line ${String(this.#line)} of the job file tells speeds in another way (G${String(value)}) than mm per minute.`,
      'Write the job with speeds in mm per minute (G94).',
    );
  }
}

function checkBeginning(chunk: Uint8Array): void {
  const [first, second] = chunk;
  if (!((first === 0xff && second === 0xfe) || (first === 0xfe && second === 0xff))) return;
  throw new InputError(
    'job-not-text',
    'The job file is written in UTF-16.',
    'Save it as plain text (ASCII or UTF-8).',
  );
}

function asciiOf(bytes: Uint8Array, from: number, to: number): string {
  return String.fromCharCode(...bytes.subarray(from, to));
}
