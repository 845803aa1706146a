import { FONT_NAME } from '../core/fontName.js';
import type { Mm } from '../core/units.js';

/** What an attribute may be; one that is undefined is left out. */
type Attribute = string | number | undefined;

/** Fonts of every picture: the first comes along with the renderer, the others are of like width. */
const FONT_FAMILY = `${FONT_NAME}, Verdana, sans-serif`;

/**
 * Makes text safe inside an element or an attribute.
 * @param text - Any text.
 * @returns The text with the markup characters of XML 1.0 replaced, and characters left out that XML forbids.
 */
export function escapeXml(text: string): string {
  return (
    text
      // eslint-disable-next-line no-control-regex -- they are what has to go
      .replace(/[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]|\p{Surrogate}/gu, '')
      .replaceAll('&', '&amp;')
      .replaceAll('<', '&lt;')
      .replaceAll('>', '&gt;')
      .replaceAll('"', '&quot;')
  );
}

/**
 * One SVG element.
 * @param name - Its name.
 * @param attributes - Its attributes; numbers are cut to two decimals.
 * @param content - SVG inside it, in order; not escaped.
 * @returns The element as text.
 * @throws {RangeError} When a number is not finite: a picture never says NaN.
 */
export function element(
  name: string,
  attributes: Readonly<Record<string, Attribute>>,
  ...content: readonly string[]
): string {
  const said = Object.entries(attributes)
    .filter(([, value]) => value !== undefined)
    .map(
      ([key, value]) => ` ${key}="${typeof value === 'number' ? coordinate(value) : escapeXml(value ?? '')}"`,
    )
    .join('');
  return content.length === 0 ? `<${name}${said}/>` : `<${name}${said}>${content.join('')}</${name}>`;
}

/**
 * Path data of straight lines through points.
 * @param points - Positions in px.
 * @param close - Whether it returns to its start. @default false
 * @returns Path data; empty for no points.
 * @throws {RangeError} When a position is not finite.
 */
export function pathThrough(points: readonly (readonly [x: number, y: number])[], close = false): string {
  const steps = points.map(([x, y], i) => `${i === 0 ? 'M' : 'L'}${coordinate(x)} ${coordinate(y)}`);
  return steps.join('') + (close && steps.length > 0 ? 'Z' : '');
}

/**
 * A part of a drawing of which only what lies in a box is seen. It needs no name of its own, as a clip path would, so that
 * several drawings can stand in one document.
 * @param box - The box, in the drawing's own units; positions inside it are those of the drawing.
 * @param content - SVG inside it.
 * @returns The part.
 * @throws {RangeError} When a position is not finite.
 */
export function svgWindow(
  box: { readonly x: number; readonly y: number; readonly width: number; readonly height: number },
  ...content: readonly string[]
): string {
  const viewBox = [box.x, box.y, box.width, box.height].map(coordinate).join(' ');
  return element('svg', { ...box, viewBox }, ...content);
}

/** What is said of a document beside its drawing. */
interface Told {
  /** What a screen reader says: a short title and a longer description. */
  readonly title: string;
  readonly description: string;
  /** Its true size, where it is to be printed. @default as many px as its drawing has units */
  readonly sizeMm?: readonly [width: Mm, height: Mm];
}

/**
 * A whole SVG document.
 * @param width - Its width in units of its drawing.
 * @param height - Its height.
 * @param body - SVG inside it.
 * @param told - What is said of it.
 * @returns The document as text.
 * @throws {RangeError} When a size is not finite.
 */
export function svgDocument(width: number, height: number, body: string, told: Told): string {
  const [widthMm, heightMm] = told.sizeMm ?? [];
  return element(
    'svg',
    {
      xmlns: 'http://www.w3.org/2000/svg',
      width: widthMm === undefined ? width : `${coordinate(widthMm)}mm`,
      height: heightMm === undefined ? height : `${coordinate(heightMm)}mm`,
      viewBox: `0 0 ${coordinate(width)} ${coordinate(height)}`,
      role: 'img',
      'aria-labelledby': 'title desc',
      'font-family': FONT_FAMILY,
    },
    `\n${element('title', { id: 'title' }, escapeXml(told.title))}\n`,
    `${element('desc', { id: 'desc' }, escapeXml(told.description))}\n`,
    body,
    '\n',
  );
}

/** A number as SVG wants it: this is syntax, not a figure for a reader, so it has a hyphen for a minus. */
function coordinate(value: number): string {
  if (!Number.isFinite(value)) throw new RangeError(`Expected a finite coordinate but received ${value}`);
  return String(Number(value.toFixed(2)) + 0);
}
