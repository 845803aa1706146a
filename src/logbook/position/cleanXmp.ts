import type { Note } from './note.js';

/**
 * Names of properties that tell a place, whatever their namespace: those of EXIF, IPTC and Photoshop in XMP, and what
 * programs write of their own (ISO 16684-1; IPTC Photo Metadata Standard; from memory). Rather one too many.
 */
export const PLACE =
  /gps|latitude|longitude|altitude|location|coordinat|position|address|province|landmark|venue|postal|country|worldregion|^geo|geocode|^(city|state|place|placename|lat|lon|lng|long|alt|poi)$/i;

/** Longer values are no words or numbers but files in letters: pictures, with a position of their own perhaps. */
const MOST_LETTERS = 2000;

/** Markup that a scan has found. */
interface Mark {
  readonly kind: 'open' | 'close' | 'empty' | 'other';
  readonly name: string;
  readonly from: number;
  readonly to: number;
}

/**
 * Overwrites, in place, properties that tell a place, and files in letters, with spaces.
 * @param data - An XMP packet in UTF-8; modified.
 * @param note - Told what was removed.
 * @returns False when it is not understood.
 * @see ISO 16684-1:2011 (XMP), section 7 (from memory).
 */
export function cleanXmp(data: Buffer, note: Note): boolean {
  // One character for each byte: places in the text are places in the data. Only ASCII matters to markup.
  const text = data.toString('latin1');
  const open: { readonly name: string; readonly from: number; readonly isPlace: boolean }[] = [];
  const blanks: (readonly [number, number])[] = [];
  let at = 0;
  while (at < text.length) {
    const next = text.indexOf('<', at);
    const textEnd = next < 0 ? text.length : next;
    if (isFile(text, at, textEnd)) {
      blanks.push([at, textEnd]);
      note('files inside XMP');
    }
    if (next < 0) break;
    const mark = markAt(text, next);
    if (mark === undefined) return false;
    if (mark.kind === 'other') {
      if (!text.startsWith('<?', next)) blanks.push([mark.from, mark.to]);
    } else if (mark.kind === 'close') {
      const begun = open.pop();
      if (begun?.name !== mark.name) return false;
      if (begun.isPlace) blanks.push([begun.from, mark.to]);
    } else {
      const isPlace = PLACE.test(localName(mark.name));
      if (mark.kind === 'open') open.push({ name: mark.name, from: mark.from, isPlace });
      else if (isPlace) blanks.push([mark.from, mark.to]);
      if (isPlace) note('position or names of places (XMP)');
      if (!attributes(mark)) return false;
    }
    at = mark.to;
  }
  if (open.length > 0) return false;
  for (const [from, to] of blanks) data.fill(0x20, from, to);
  return true;

  function attributes({ from, to, name }: Mark): boolean {
    let place = from + 1 + name.length;
    for (;;) {
      while (isSpace(text[place])) place += 1;
      if (place >= to - 1 || text[place] === '/') return true;
      const equals = text.indexOf('=', place);
      if (equals < 0 || equals >= to) return false;
      const attribute = text.slice(place, equals).trim();
      let quoteAt = equals + 1;
      while (isSpace(text[quoteAt])) quoteAt += 1;
      const quote = text[quoteAt];
      if (quote !== '"' && quote !== "'") return false;
      const end = text.indexOf(quote, quoteAt + 1);
      if (end < 0 || end >= to) return false;
      if (!/^xmlns(:|$)/.test(attribute)) {
        const isPlace = PLACE.test(localName(attribute));
        const file = isFile(text, quoteAt + 1, end);
        if (isPlace || file) {
          blanks.push([place, end + 1]);
          note(isPlace ? 'position or names of places (XMP)' : 'files inside XMP');
        }
      }
      place = end + 1;
    }
  }
}

/** The markup that begins at a place; undefined when it has no end, or is none. */
function markAt(text: string, from: number): Mark | undefined {
  for (const [start, stop] of [
    ['<!--', '-->'],
    ['<![CDATA[', ']]>'],
    ['<?', '?>'],
  ] as const) {
    if (!text.startsWith(start, from)) continue;
    const end = text.indexOf(stop, from + start.length);
    return end < 0 ? undefined : { kind: 'other', name: '', from, to: end + stop.length };
  }
  // What a document type declares could stand for anything.
  if (text.startsWith('<!', from)) return undefined;
  const closing = text[from + 1] === '/';
  let at = from + (closing ? 2 : 1);
  const nameFrom = at;
  while (at < text.length && !isSpace(text[at]) && text[at] !== '>' && text[at] !== '/') at += 1;
  const name = text.slice(nameFrom, at);
  if (name === '' || name.length > 200) return undefined;
  while (at < text.length && text[at] !== '>') {
    const quote = text[at];
    if (quote === '<') return undefined;
    if (quote === '"' || quote === "'") {
      const end = text.indexOf(quote, at + 1);
      if (end < 0) return undefined;
      at = end;
    }
    at += 1;
  }
  if (at >= text.length) return undefined;
  const kind = closing ? 'close' : text[at - 1] === '/' ? 'empty' : 'open';
  return { kind, name, from, to: at + 1 };
}

function localName(name: string): string {
  return name.slice(name.indexOf(':') + 1);
}

function isSpace(letter: string | undefined): boolean {
  return letter === ' ' || letter === '\n' || letter === '\r' || letter === '\t';
}

function isFile(text: string, from: number, to: number): boolean {
  return to - from > MOST_LETTERS && text.slice(from, to).replaceAll(/\s/g, '').length > MOST_LETTERS;
}
