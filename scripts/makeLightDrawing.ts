/**
 * Draws docs/light.svg, which the README shows: where the lamp belongs, as in the picture of a refusal.
 *
 *   npx tsx scripts/makeLightDrawing.ts
 *
 * test/scripts/lightDrawing.test.ts says when the file is stale.
 */
import { writeFileSync } from 'node:fs';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { PAPER } from '../src/report/charts/ink.js';
import { LAMP_DESCRIPTION, LAMP_PART_PX, lampPart } from '../src/report/charts/lamp.js';
import { element, svgDocument } from '../src/report/svg.js';

const OUTPUT = fileURLToPath(new URL('../docs/light.svg', import.meta.url));
const MARGIN_PX = 20;

/**
 * The drawing as a document of its own.
 * @returns SVG.
 */
export function lightDrawing(): string {
  const width = LAMP_PART_PX.width + 2 * MARGIN_PX;
  const height = LAMP_PART_PX.height + 2 * MARGIN_PX;
  const paper = element('rect', { x: 0, y: 0, width, height, fill: PAPER });
  const { svg } = lampPart({ left: MARGIN_PX, top: MARGIN_PX });
  return `${svgDocument(width, height, [paper, svg].join('\n'), {
    title: 'Where the lamp belongs',
    description: LAMP_DESCRIPTION,
  })}\n`;
}

if (import.meta.url === pathToFileURL(process.argv[1] ?? '').href) writeFileSync(OUTPUT, lightDrawing());
