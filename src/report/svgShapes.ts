import { parseXml, XmlElement, XmlText } from '@rgrove/parse-xml';
import type { Mm } from '../core/units.js';
import type { Place, Shape } from './drawing.js';

/** Where a chart stands on a page. */
export interface ChartPlace {
  /** Where the chart's own origin lies. */
  readonly at: Place;
  readonly mmPerUnit: Mm;
}

/** How many sides a disc gets: at the size of a dot nobody sees them. */
const DISC_SIDES = 24;

/** Attributes that a reader may pass over: names for tests, and what the place of the shapes says already. */
const PASSED_OVER: ReadonlySet<string> = new Set([
  'class',
  'stroke-linejoin',
  'stroke-linecap',
  'paint-order',
  'preserveAspectRatio',
  'viewBox',
]);

/**
 * Turns one of our own charts into shapes of a page, so that every chart is described once. It reads what `svg.ts` writes
 * (no transforms, curves or styles) and refuses the rest, so that nothing is left out of a page unnoticed.
 * @param svg - SVG inside a document, as the charts return it.
 * @param place - Where it stands, and how large.
 * @returns The shapes, in their order.
 * @throws {Error} When the text is not XML, or holds an element or attribute that is not known here.
 */
export function svgShapes(svg: string, place: ChartPlace): readonly Shape[] {
  const { root } = parseXml(`<chart>${svg}</chart>`);
  return root === null ? [] : inside(root, place);
}

function inside({ children }: XmlElement, place: ChartPlace): readonly Shape[] {
  return children.flatMap((child) => (child instanceof XmlElement ? shapesOf(child, place) : []));
}

function shapesOf(node: XmlElement, place: ChartPlace): readonly Shape[] {
  const attributes = new Attributes(node, place);
  const shapes = drawn(node, attributes, place);
  attributes.checkAllRead();
  return shapes;
}

function drawn(node: XmlElement, attributes: Attributes, place: ChartPlace): readonly Shape[] {
  switch (node.name) {
    case 'g':
      return inside(node, place);
    case 'svg':
      return [{ kind: 'window', ...attributes.box(), shapes: inside(node, place) }];
    case 'image':
      return [{ kind: 'picture', ...attributes.box(), dataUri: attributes.text('href') }];
    case 'path':
      return painted(attributes, linesOf(attributes.text('d'), attributes));
    case 'line': {
      const ends = [attributes.at('x1', 'y1'), attributes.at('x2', 'y2')];
      return painted(attributes, [{ points: ends, closed: false }]);
    }
    case 'rect': {
      const {
        at: [x, y],
        widthMm,
        heightMm,
      } = attributes.box();
      const points: readonly Place[] = [
        [x, y],
        [x + widthMm, y],
        [x + widthMm, y + heightMm],
        [x, y + heightMm],
      ];
      return painted(attributes, [{ points, closed: true }]);
    }
    case 'circle': {
      const [x, y] = attributes.at('cx', 'cy');
      const radius = attributes.length('r');
      const points = Array.from({ length: DISC_SIDES }, (_, i): Place => {
        const angle = (2 * Math.PI * i) / DISC_SIDES;
        return [x + radius * Math.cos(angle), y + radius * Math.sin(angle)];
      });
      return painted(attributes, [{ points, closed: true }]);
    }
    case 'text':
      return [textOf(node, attributes)];
    default:
      throw new Error(`A chart holds <${node.name}>, which a page cannot show yet`);
  }
}

interface Line {
  readonly points: readonly Place[];
  readonly closed: boolean;
}

/** Filled first, then outlined, as SVG paints. */
function painted(attributes: Attributes, lines: readonly Line[]): readonly Shape[] {
  const fill = attributes.optional('fill') ?? '#000000';
  const stroke = attributes.optional('stroke') ?? 'none';
  const fillOpacity = attributes.number('fill-opacity', 1);
  const opacity = attributes.number('stroke-opacity', 1);
  const widthMm = attributes.length('stroke-width', 1);
  const dashes = attributes.optional('stroke-dasharray');
  const rings = lines.map(({ points }) => points).filter((points) => points.length > 2);
  const style = {
    stroke,
    widthMm,
    opacity,
    ...(dashes === undefined ? {} : { dashesMm: dashes.split(' ').map((dash) => attributes.scaled(dash)) }),
  };
  return [
    ...(fill === 'none' || rings.length === 0
      ? []
      : [{ kind: 'area', rings, fill, opacity: fillOpacity } as const]),
    ...(stroke === 'none'
      ? []
      : lines.map(({ points: [first, ...others], closed }): Shape => {
          const points = first === undefined ? [] : [first, ...others, ...(closed ? [first] : [])];
          return { kind: 'line', points, ...style };
        })),
  ];
}

/** Path data of `pathThrough`: M and L with absolute positions, and Z. */
function linesOf(d: string, attributes: Attributes): readonly Line[] {
  return d
    .split('M')
    .filter((part) => part !== '')
    .map((part) => {
      const closed = part.endsWith('Z');
      const points = (closed ? part.slice(0, -1) : part).split('L').map((point): Place => {
        const [x = '', y = ''] = point.split(' ');
        return attributes.placed(x, y);
      });
      return { points, closed };
    });
}

function textOf(node: XmlElement, attributes: Attributes): Shape {
  const rim = attributes.optional('stroke');
  attributes.optional('stroke-width');
  const anchor = attributes.optional('text-anchor');
  return {
    kind: 'text',
    text: node.children.map((child) => (child instanceof XmlText ? child.text : '')).join(''),
    at: attributes.at('x', 'y'),
    sizeMm: attributes.length('font-size'),
    fill: attributes.optional('fill') ?? '#000000',
    bold: attributes.optional('font-weight') === 'bold',
    ...(rim === undefined ? {} : { behind: rim }),
    ...(anchor === 'middle' || anchor === 'end' ? { anchor } : {}),
  };
}

/** The attributes of one element; those that nobody asked for are noticed. */
class Attributes {
  readonly #node: XmlElement;
  readonly #place: ChartPlace;
  readonly #read = new Set<string>();

  constructor(node: XmlElement, place: ChartPlace) {
    this.#node = node;
    this.#place = place;
  }

  optional(name: string): string | undefined {
    this.#read.add(name);
    return this.#node.attributes[name];
  }

  text(name: string): string {
    const value = this.optional(name);
    if (value === undefined) throw new Error(`A chart holds <${this.#node.name}> without ${name}`);
    return value;
  }

  number(name: string, otherwise: number): number {
    const value = this.optional(name);
    return value === undefined ? otherwise : finite(value);
  }

  length(name: string, otherwise?: number): Mm {
    const value = this.optional(name) ?? (otherwise === undefined ? this.text(name) : String(otherwise));
    return this.scaled(value);
  }

  scaled(value: string): Mm {
    return this.#place.mmPerUnit * finite(value);
  }

  placed(x: string, y: string): Place {
    const [left, top] = this.#place.at;
    return [left + this.scaled(x), top + this.scaled(y)];
  }

  at(x: string, y: string): Place {
    return this.placed(this.text(x), this.text(y));
  }

  box(): { readonly at: Place; readonly widthMm: Mm; readonly heightMm: Mm } {
    return { at: this.at('x', 'y'), widthMm: this.length('width'), heightMm: this.length('height') };
  }

  checkAllRead(): void {
    const unread = Object.keys(this.#node.attributes).find(
      (name) => !this.#read.has(name) && !PASSED_OVER.has(name),
    );
    if (unread !== undefined) {
      throw new Error(`A chart's <${this.#node.name}> has ${unread}, which a page cannot show yet`);
    }
  }
}

function finite(text: string): number {
  const value = Number(text);
  if (text === '' || !Number.isFinite(value)) throw new Error(`Expected a number but received "${text}"`);
  return value;
}
