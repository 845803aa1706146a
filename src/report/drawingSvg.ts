import type { Drawing, Shape } from './drawing.js';
import { element, escapeXml, pathThrough, svgDocument } from './svg.js';

/** Numbers of a document are cut to two decimals: a unit of a tenth of a millimetre keeps them to a micrometre. */
const PER_MM = 10;

/**
 * A page as an SVG document of its true size.
 * @param drawing - The page.
 * @returns The document as text.
 * @throws {RangeError} When a number is not finite.
 */
export function drawingSvg({ widthMm, heightMm, title, description, shapes }: Drawing): string {
  const body = shapes.map(shapeSvg).join('\n');
  return svgDocument(PER_MM * widthMm, PER_MM * heightMm, body, {
    title,
    description,
    sizeMm: [widthMm, heightMm],
  });
}

function shapeSvg(shape: Shape): string {
  const scaled = (points: readonly (readonly [number, number])[]) =>
    points.map(([x, y]) => [PER_MM * x, PER_MM * y] as const);
  switch (shape.kind) {
    case 'area':
      return element('path', {
        d: shape.rings.map((ring) => pathThrough(scaled(ring), true)).join(''),
        fill: shape.fill,
        'fill-rule': 'evenodd',
      });
    case 'line':
      return element('path', {
        d: pathThrough(scaled(shape.points)),
        fill: 'none',
        stroke: shape.stroke,
        'stroke-width': PER_MM * shape.widthMm,
      });
    case 'text': {
      const { text, at, sizeMm, fill, bold = false, anchor = 'start' } = shape;
      return element(
        'text',
        {
          x: PER_MM * at[0],
          y: PER_MM * at[1],
          'font-size': PER_MM * sizeMm,
          fill,
          'font-weight': bold ? 'bold' : undefined,
          'text-anchor': anchor === 'start' ? undefined : anchor,
        },
        escapeXml(text),
      );
    }
  }
}
