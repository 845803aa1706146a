import { FONT_NAME } from '../../core/fontName.js';
import { inkStyle } from '../charts/inkStyle.js';
import { PAPERS_MM, type Paper } from '../paper.js';
import { escapeXml } from '../svg.js';
import { WIDE_PX, type Sheet, type SheetFigure, type SheetSection, type SheetSide } from './sheet.js';

const MARGIN_MM = 12;

/**
 * A sheet as one HTML document that needs nothing else: no script, no reference to another file, charts as SVG and photos
 * inside it. On a screen it is light or dark as its reader's system is; on paper it is light.
 * @param sheet - From `drawSheet` or `drawPairSheet`.
 * @param paper - What it is printed on. @default 'a4'
 * @returns The document as text.
 */
export function sheetHtml(sheet: Sheet, paper: Paper = 'a4'): string {
  const [first, second] = sheet.sides;
  const body =
    second === undefined
      ? article(first, 1)
      : `<h1 class="pair-title">${text(pairTitle(first, second))}</h1>\n<div class="pair">${article(first, 2)}${article(second, 2)}</div>`;
  return `<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:; style-src 'unsafe-inline'">
<meta name="description" content="${text(sheet.description)}">
<title>${text(sheet.title)}</title>
<style>
${style(paper)}
</style>
</head>
<body>
<main>
${body}
</main>
</body>
</html>
`;
}

function pairTitle(a: SheetSide, b: SheetSide): string {
  const machine = a.heading.split('  ·  ')[0] ?? '';
  return `${machine === '' ? '' : `${machine}: `}${a.axis} and ${b.axis}`;
}

type Level = 1 | 2;

function article(side: SheetSide, level: Level): string {
  const [title, part] = level === 1 ? (['h1', 'h2'] as const) : (['h2', 'h3'] as const);
  const heading = side.heading === '' ? '' : `<p class="of">${text(side.heading)}</p>\n`;
  const rest = side.rest === '' ? '' : `<p class="rest">${text(side.rest)}</p>\n`;
  return `<article>
<header>
<div>
${heading}<${title}><span class="axis">${text(side.axis)}</span> ${text(side.answer)}</${title}>
${rest}<p class="good">${text(side.goodFor)}</p>
<p class="belongs">${text(side.belongs)}</p>
</div>
${figure(side.mark, 'mark')}
</header>
${side.pictures.map((picture) => figure(picture, 'wide')).join('\n')}
<div class="sections">
${side.sections.map((section) => sectionHtml(section, part)).join('\n')}
</div>
</article>
`;
}

function sectionHtml(
  { name, lines = [], boxes = [], rows = [], figure: shown }: SheetSection,
  heading: string,
): string {
  if (lines.length === 0 && boxes.length === 0 && rows.length === 0 && shown === undefined) return '';
  const list = listHtml(lines) + listHtml(boxes, 'boxes');
  const table =
    rows.length === 0
      ? ''
      : `<table><tbody>${rows
          .map(([what, value]) => `<tr><th scope="row">${text(what)}</th><td>${text(value)}</td></tr>`)
          .join('')}</tbody></table>`;
  return `<section><${heading}>${text(name)}</${heading}>${shown === undefined ? '' : figure(shown, 'inline')}${list}${table}</section>`;
}

function listHtml(items: readonly string[], kind?: 'boxes'): string {
  if (items.length === 0) return '';
  const all = items.map((item) => `<li>${text(item)}</li>`).join('');
  return `<ul${kind === undefined ? '' : ` class="${kind}"`}>${all}</ul>`;
}

function figure(
  { svg, widthPx, heightPx, alt, caption }: SheetFigure,
  kind: 'mark' | 'wide' | 'inline',
): string {
  const [width, height] = [Math.ceil(widthPx), Math.ceil(heightPx)];
  const drawing = `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${String(width)} ${String(height)}" width="${String(width)}" height="${String(height)}" role="img" aria-label="${text(alt)}">${svg}</svg>`;
  // A chart keeps its size on a small screen, where it is moved sideways, by keyboard too.
  const shown =
    kind === 'wide'
      ? `<div class="scroll" role="group" aria-label="chart" tabindex="0">${drawing}</div>`
      : drawing;
  return `<figure class="${kind}">${shown}${caption === '' ? '' : `<figcaption>${text(caption)}</figcaption>`}</figure>`;
}

/** A ± stays with both its numbers, and a unit with its own. */
function text(said: string): string {
  return escapeXml(said).replaceAll(' ± ', '\u00a0±\u00a0').replaceAll('\u2009', '\u202f');
}

function style(paper: Paper): string {
  const [widthMm, heightMm] = PAPERS_MM[paper];
  return `${inkStyle()}
*{box-sizing:border-box}
body{margin:0;background:var(--paper);color:var(--ink);font:16px/1.45 "${FONT_NAME}",Verdana,sans-serif;font-variant-numeric:tabular-nums}
main{max-width:76rem;margin:0 auto;padding:1.5rem clamp(.75rem,3vw,2.5rem)}
svg{display:block;max-width:100%;height:auto;font-family:inherit}
header{display:flex;flex-wrap:wrap;gap:1rem 2rem;justify-content:space-between;align-items:flex-start}
header>div{flex:1 1 22rem}
h1,article>header h2{font-size:clamp(1.4rem,4vw,2.1rem);line-height:1.2;margin:.2rem 0}
h2,h3{font-size:1rem;margin:0 0 .3rem}
p{margin:.15rem 0}
.of,.good,figcaption,.sections th{color:var(--soft)}
.rest{font-size:1.1rem}
.belongs{font-weight:bold}
figure{margin:0}
figure.mark svg{width:17rem}
figure.wide{margin:1.2rem 0}
figure.wide svg{min-width:44rem;max-width:none}
figure.wide svg[width="${String(WIDE_PX)}"]{width:100%}
figure.wide svg:not([width="${String(WIDE_PX)}"]){min-width:0;max-width:100%}
.scroll{overflow-x:auto}
figcaption{font-size:.78rem;margin-top:.2rem}
.sections{columns:3 19rem;column-gap:2rem}
section{margin:0 0 1.1rem;break-inside:avoid-column;border-top:1px solid var(--hairline);padding-top:.4rem}
section figure{margin-bottom:.5rem}
ul{margin:0;padding-left:1.1rem}
li{margin:.15rem 0}
ul.boxes{list-style:"☐ ";padding-left:1.3rem}
.sections{font-size:.85rem;overflow-wrap:anywhere}
table{border-collapse:collapse;width:100%}
th,td{text-align:left;vertical-align:top;padding:.1rem 0;font-weight:normal}
th{width:32%;padding-right:.6rem;overflow-wrap:break-word}
@media screen and (max-width:48rem){
figure.wide:has(svg[width="${String(WIDE_PX)}"])::before{content:"Wider than this screen: move the picture sideways →";display:block;font-size:.85rem;font-weight:bold;margin-bottom:.2rem}
.scroll{border:1px solid var(--soft);border-width:0 2px}
}
.pair{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,30rem),1fr));gap:2rem}
@page{size:${String(widthMm)}mm ${String(heightMm)}mm;margin:${String(MARGIN_MM)}mm}
@media print{
:root{color-scheme:light}
html{print-color-adjust:exact;-webkit-print-color-adjust:exact}
body{background:none;font-size:7pt;line-height:1.3}
main{max-width:none;padding:0}
h1,article>header h2{font-size:17pt}
header>div{flex:1 1 0}
.rest{font-size:9.5pt}
h2,h3{font-size:7.5pt}
figure.mark svg{width:48mm}
figure.wide{margin:2mm 0}
figure.wide svg{min-width:0}
.scroll{overflow:visible}
.sections{columns:3;column-gap:5mm;font-size:6.3pt}
figcaption{font-size:6pt}
section{margin-bottom:2mm;padding-top:1mm;break-inside:auto}
figure,tr,li{break-inside:avoid}
h2,h3{break-after:avoid}
.pair{grid-template-columns:1fr 1fr;gap:6mm}
.pair .sections{columns:1}
}`;
}
