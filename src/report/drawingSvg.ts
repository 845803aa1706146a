import type { Drawing, Shape } from './drawing.js';
import { element, escapeXml, pathThrough, svgDocument, svgWindow } from './svg.js';

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
        'fill-opacity': shape.opacity,
        'fill-rule': 'evenodd',
      });
    case 'line':
      return element('path', {
        d: pathThrough(scaled(shape.points)),
        fill: 'none',
        stroke: shape.stroke,
        'stroke-width': PER_MM * shape.widthMm,
        'stroke-opacity': shape.opacity,
        'stroke-dasharray': shape.dashesMm?.map((mm) => (PER_MM * mm).toFixed(2)).join(' '),
      });
    case 'picture':
      return element('image', { ...boxOf(shape), preserveAspectRatio: 'none', href: shape.dataUri });
    case 'window':
      return svgWindow(boxOf(shape), ...shape.shapes.map(shapeSvg));
    case 'text': {
      const { text, at, sizeMm, fill, bold = false, behind, anchor = 'start' } = shape;
      return element(
        'text',
        {
          x: PER_MM * at[0],
          y: PER_MM * at[1],
          'font-size': PER_MM * sizeMm,
          fill,
          'font-weight': bold ? 'bold' : undefined,
          'text-anchor': anchor === 'start' ? undefined : anchor,
          ...(behind === undefined
            ? {}
            : { stroke: behind, 'stroke-width': 0.25 * PER_MM * sizeMm, 'paint-order': 'stroke' }),
        },
        escapeXml(text),
      );
    }
  }
}

function boxOf({ at, widthMm, heightMm }: Extract<Shape, { readonly kind: 'picture' | 'window' }>) {
  return { x: PER_MM * at[0], y: PER_MM * at[1], width: PER_MM * widthMm, height: PER_MM * heightMm };
}
