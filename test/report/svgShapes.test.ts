import { describe, expect, test } from 'vitest';
import type { Shape } from '../../src/report/drawing.js';
import { drawPicture } from '../../src/report/picture.js';
import { element, svgWindow } from '../../src/report/svg.js';
import { svgShapes } from '../../src/report/svgShapes.js';
import { pictureData, proofReading, proposedReading, unseenPicture, unseenReading } from './fixtures.js';

const ORIGIN = { at: [0, 0], mmPerUnit: 1 } as const;

function texts(shapes: readonly Shape[]): readonly string[] {
  return shapes.flatMap((shape) =>
    shape.kind === 'window' ? texts(shape.shapes) : shape.kind === 'text' ? [shape.text] : [],
  );
}

/** What is inside a document of ours. */
function inside(svg: string): string {
  return svg
    .replace(/^<svg[^>]*>\s*<title[^>]*>[^<]*<\/title>\s*<desc[^>]*>[^<]*<\/desc>/, '')
    .replace(/<\/svg>$/, '');
}

describe('svgShapes', () => {
  test('puts lines, areas and text where the place says', () => {
    const svg =
      element('rect', { x: 1, y: 2, width: 3, height: 4, fill: '#112233', 'fill-opacity': 0.5 }) +
      element('path', { d: 'M0 0L10 0M0 5L10 5', stroke: '#445566', 'stroke-width': 2, fill: 'none' }) +
      element('text', { x: 5, y: 6, 'font-size': 10, fill: '#000000', 'text-anchor': 'end' }, '1 &lt; 2');
    expect(svgShapes(svg, { at: [100, 200], mmPerUnit: 0.1 })).toEqual([
      {
        kind: 'area',
        rings: [
          [
            [100.1, 200.2],
            [100.4, 200.2],
            [100.4, 200.6],
            [100.1, 200.6],
          ].map((place): unknown[] => place.map((mm): unknown => expect.closeTo(mm, 9))),
        ],
        fill: '#112233',
        opacity: 0.5,
      },
      ...[200, 200.5].map((y) => ({
        kind: 'line',
        points: [
          [100, y],
          [101, y],
        ],
        widthMm: 0.2,
        stroke: '#445566',
        opacity: 1,
      })),
      {
        kind: 'text',
        text: '1 < 2',
        at: [100.5, 200.6],
        sizeMm: 1,
        fill: '#000000',
        bold: false,
        anchor: 'end',
      },
    ]);
  });

  test('a disc keeps its size, a dash its lengths, a window what is in it', () => {
    const [disc] = svgShapes(element('circle', { cx: 0, cy: 0, r: 2, fill: '#000000' }), ORIGIN);
    const ring = disc?.kind === 'area' ? disc.rings[0]! : [];
    for (const [x, y] of ring) expect(Math.hypot(x, y)).toBeCloseTo(2, 9);
    const line = element('line', {
      x1: 0,
      y1: 0,
      x2: 9,
      y2: 0,
      stroke: '#000000',
      'stroke-dasharray': '5 3',
    });
    expect(svgShapes(line, { at: [0, 0], mmPerUnit: 2 })).toMatchObject([
      { kind: 'line', dashesMm: [10, 6] },
    ]);
    const framed = svgWindow({ x: 1, y: 1, width: 4, height: 4 }, line);
    expect(svgShapes(framed, ORIGIN)).toMatchObject([
      { kind: 'window', at: [1, 1], widthMm: 4, heightMm: 4, shapes: [{ kind: 'line' }] },
    ]);
  });

  test.each([
    ['an ellipse', element('ellipse', { cx: 1, cy: 1, rx: 1, ry: 2 })],
    ['a turn', element('g', { transform: 'rotate(30)' })],
    ['a style', element('rect', { x: 0, y: 0, width: 1, height: 1, style: 'fill:red' })],
    ['a curve', element('path', { d: 'M0 0C1 1 2 2 3 3', fill: 'none' })],
    ['a picture without a source', element('image', { x: 0, y: 0, width: 1, height: 1 })],
  ])('refuses %s, which would be left out unnoticed', (_, svg) => {
    expect(() => svgShapes(svg, ORIGIN)).toThrow(/cannot show yet|Expected a number|without href/);
  });

  test.each([
    ['proposed', drawPicture(proposedReading(), pictureData())],
    ['proof', drawPicture(proofReading(), pictureData())],
    ['no face found', drawPicture(unseenReading(), unseenPicture())],
  ])('reads every chart of a picture (%s), and loses no word', (_, svg) => {
    const content = inside(svg);
    const said = [...content.matchAll(/<text [^>]*>([^<]*)<\/text>/g)].map(([, text]) =>
      text!
        .replaceAll('&amp;', '&')
        .replaceAll('&lt;', '<')
        .replaceAll('&gt;', '>')
        .replaceAll('&quot;', '"'),
    );
    expect(said.length).toBeGreaterThan(10);
    expect(texts(svgShapes(content, ORIGIN))).toEqual(said);
  });
});
