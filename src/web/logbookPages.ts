import {
  EXCHANGED,
  logbookRow,
  remarkOf,
  SPAN,
  verdictOf,
  type Entry,
  type EntryLine,
  type SheetFigure,
  type SheetSection,
  type SheetSide,
} from '../index.js';
import { inFieldWords, problemHtml } from './fieldWords.js';
import { html, page, trusted, type Html } from './html.js';
import type { WebError } from './problem.js';
import type { ListedEntries, ShownComparison, ShownEntry, ShownTrend } from './worker.js';

/** What is asked of a comparison, as it was typed. */
export interface AskedComparison {
  readonly before: string;
  readonly after: string;
  readonly sameLight: boolean;
  readonly level: string;
}

/** What the page of a comparison shows. */
interface ComparePageParts {
  readonly asked: AskedComparison;
  /** Absent where nothing was asked for yet. */
  readonly found?: ShownComparison;
  readonly problem?: WebError;
}

/** What the command is told by a flag, the page asks in these words. */
const COMPARE_FIELDS = [
  { flag: '--same-light', label: 'Lamp, camera and filament were the same in all photos' },
] as const;

/**
 * The page where the server was started without a logbook.
 * @param nav - Which page was asked for.
 * @returns The document.
 */
export function noLogbookPage(nav: 'logbook' | 'trend' | 'compare'): string {
  return page({
    title: 'No logbook',
    nav,
    body: html`<h1>No logbook</h1>
<p>This server was started without a logbook. Start it with <code>stillband serve --logbook logbook</code>: readings can then be saved, looked at again, and compared.</p>`,
  });
}

/**
 * What the logbook holds, the newest first, to look at or to compare.
 * @param listed - A page of it; undefined where it has no entries yet.
 * @param machine - The one machine that is shown; undefined: all.
 * @returns The document.
 */
export function listPage(listed: ListedEntries | undefined, machine: string | undefined): string {
  if (listed === undefined) return emptyPage('Logbook', 'logbook');
  const { lines, damaged, size, head, machines, newer, older } = listed;
  const link = (skip: number, words: string) => {
    const query = new URLSearchParams({
      ...(machine === undefined ? {} : { machine }),
      ...(skip > 0 ? { skip: String(skip) } : {}),
    });
    return html`<li><a href="/logbook?${query.toString()}">${words}</a></li>`;
  };
  const body = html`<h1>Logbook</h1>
<p>${size === 1 ? '1 entry' : `${String(size)} entries`}; what is saved is never changed.</p>
${damaged.map(damageOf)}
${machineForm('/logbook', machines, machine, 'All machines')}
<form action="/compare" method="get" class="wide">
<section class="scroll" aria-label="Entries" tabindex="0">
<table class="list">
<thead><tr><th scope="col">before</th><th scope="col">after</th><th scope="col" class="number">no</th><th scope="col">axis</th><th scope="col">result</th><th scope="col">machine</th><th scope="col">photo</th><th scope="col">saved</th></tr></thead>
<tbody>${lines.map(listRow)}</tbody>
</table>
</section>
<p class="no-print"><button type="submit">Compare the two chosen</button></p>
</form>
${
  newer + older === 0
    ? ''
    : html`<nav aria-label="Further entries"><ul class="steps">${
        newer > 0 ? link(Math.max(0, newer - 100), 'Newer') : ''
      }${older > 0 ? link(newer + lines.length, 'Older') : ''}</ul></nav>`
}
<h2>Head</h2>
<p><code>${head}</code></p>
<p class="hint">Kept elsewhere, it shows later whether anything up to here was changed: <code>stillband logbook verify --head …</code></p>`;
  return page({ title: 'Logbook', nav: 'logbook', body });
}

function damageOf(text: string): Html {
  return html`<p class="problem">${text} It is not used; <code>stillband logbook verify</code> shows what is changed.</p>
`;
}

function listRow(line: EntryLine): Html {
  const [number = '', saved, photo, machine, axis] = logbookRow(line);
  const canCompare = line.kind === 'reading' || line.kind === 'joint-reading';
  const radio = (side: string) =>
    canCompare
      ? html`<input type="radio" name="${side}" value="${number}" aria-label="entry ${number} is ${side} the change">`
      : '';
  const remarks = remarkOf(line).map((text) => html`<br><span class="soft">${text}</span>`);
  return html`<tr><td>${radio('before')}</td><td>${radio('after')}</td><th scope="row" class="number"><a href="/logbook/${number}">${number}<span class="visually-hidden"> of ${axis} on ${machine}</span></a></th><td>${axis}</td><td>${verdictOf(line)}${remarks}</td><td>${machine}</td><td class="day">${photo}</td><td class="day">${saved}</td></tr>
`;
}

/**
 * One entry: what it is, what was read, and where its files come from.
 * @param shown - The entry.
 * @returns The document.
 */
export function entryPage({ entry, size, sheet }: ShownEntry): string {
  const { number, photos = [] } = entry;
  const title = `Entry ${String(number)}`;
  const neighbours = [
    ...(number > 1
      ? [html`<li><a href="/logbook/${number - 1}" rel="prev">Entry ${number - 1}</a></li>`]
      : []),
    html`<li><a href="/logbook">All entries</a></li>`,
    ...(number < size
      ? [html`<li><a href="/logbook/${number + 1}" rel="next">Entry ${number + 1}</a></li>`]
      : []),
  ];
  const sides = sheet?.sides ?? [];
  const body = html`<h1>${title}: ${verdictOf(entry)}</h1>
<nav aria-label="Entries"><ul class="steps">${neighbours}</ul></nav>
${entry.pair?.exchanged === true ? html`<p class="problem">${EXCHANGED}</p>` : ''}
<table class="facts"><tbody>${facts(entry)}</tbody></table>
${
  sheet === undefined
    ? ''
    : html`<p class="no-print"><a class="button" href="/logbook/${number}/sheet.html">Sheet with pictures</a> <a class="button" href="/logbook/${number}/sheet.pdf">The same as PDF</a></p>
<p class="hint no-print">The stored photo is measured again for its pictures, which takes some seconds; every number is as it was saved.</p>`
}
${photos.map(
  ({ original }, i) =>
    html`<figure class="photo"><img src="/logbook/${number}/photo/${i + 1}.jpg" alt="The photo${original.name === undefined ? '' : ` ${original.name}`} as it is stored" loading="lazy"><figcaption>${original.name ?? `photo ${String(i + 1)}`}, SHA-256 of the original <code>${original.sha256}</code></figcaption></figure>`,
)}
${sides.length === 0 ? '' : html`<div class="pair">${[...sides].map(sideOf)}</div>`}
${
  sheet === undefined && entry.kind !== 'note'
    ? html`<p class="problem">The reading has the form of another version of stillband. Measure its photo again: <code>stillband logbook replay ${number}</code></p>`
    : ''
}`;
  return page({ title, nav: 'logbook', body });
}

function facts(entry: Entry): readonly Html[] {
  const { kind, savedAt, takenOn, machine, axis, changed, note, about, pair, photos = [] } = entry;
  const removed = [...new Set(photos.flatMap((photo) => photo.removed))];
  const rows: readonly (readonly [string, Html | string | undefined])[] = [
    ['kind', kind],
    ['saved', `${savedAt} by the clock of the computer`],
    ['photo taken', takenOn],
    ['machine', machine],
    ['axis', axis],
    ['changed before it', changed?.join(', ')],
    ['note', note],
    ['about', about === undefined ? undefined : entryLink(about)],
    ['readings', pair && html`${pair.axes.map((one) => html`axis ${one.axis}: ${entryLink(one.number)} `)}`],
    ['removed from the photo', photos.length === 0 ? undefined : removed.join('; ') || 'nothing'],
  ];
  return rows.flatMap(([name, value]) =>
    value === undefined ? [] : [html`<tr><th scope="row">${name}</th><td>${value}</td></tr>`],
  );
}

function entryLink(number: number): Html {
  return html`<a href="/logbook/${number}">entry ${number}</a>`;
}

/** A reading in the order of its sheet, its charts without pictures of the photo. */
function sideOf(side: SheetSide): Html {
  const { heading, axis, answer, rest, goodFor, belongs, mark, pictures, sections } = side;
  return html`<article class="reading">
<h2>${axis}: ${answer}</h2>
<p class="soft">${heading}</p>
<p>${rest}</p>
<p>${goodFor}</p>
<p><strong>${belongs}</strong></p>
${figureOf(mark)}
${pictures.map(figureOf)}
${sections.map(sectionOf)}
</article>`;
}

function sectionOf({ name, lines = [], rows = [], figure }: SheetSection): Html | '' {
  if (lines.length + rows.length === 0 && figure === undefined) return '';
  return html`<section><h3>${name}</h3>
${figure === undefined ? '' : figureOf(figure)}
${lines.length === 0 ? '' : html`<ul>${lines.map((line) => html`<li>${line}</li>`)}</ul>`}
${rows.length === 0 ? '' : html`<table class="facts"><tbody>${rows.map(([what, value]) => html`<tr><th scope="row">${what}</th><td>${value}</td></tr>`)}</tbody></table>`}
</section>`;
}

function figureOf({ svg, widthPx, heightPx, alt, caption }: SheetFigure): Html {
  const size = html`viewBox="0 0 ${widthPx} ${heightPx}" width="${widthPx}" height="${heightPx}"`;
  const isWide = widthPx > 400;
  return html`<figure>${isWide ? html`<div class="scroll" role="group" aria-label="chart" tabindex="0">${drawn(alt, size, svg)}</div>` : drawn(alt, size, svg)}${caption === '' ? '' : html`<figcaption>${caption}</figcaption>`}</figure>`;
}

function drawn(alt: string, size: Html, svg: string): Html {
  return html`<svg ${size} role="img" aria-label="${alt}">${trusted(svg)}</svg>`;
}

/**
 * Frequency and damping of the axes of a machine over time.
 * @param told - What is known of them.
 * @returns The document.
 */
export function trendPage(told: {
  readonly machines: readonly string[];
  readonly machine: string | undefined;
  readonly trends: readonly ShownTrend[];
  readonly passedOver: readonly string[];
  readonly damaged: readonly string[];
}): string {
  const { machines, machine, trends, passedOver, damaged } = told;
  if (trends.length === 0 && machines.length === 0) return emptyPage('Trend', 'trend');
  const body = html`<h1>Trend${machine === undefined ? '' : ` of ${machine}`}</h1>
${machineForm('/trend', machines, machine)}
${damaged.map(damageOf)}
${trends.length === 0 ? html`<p>No frequency of this machine has been measured yet.</p>` : ''}
${trends.map(trendOf)}
${passedOver.length === 0 ? '' : html`<p class="hint">Passed over, being of another version: ${passedOver.join(', ')}.</p>`}`;
  return page({ title: 'Trend', nav: 'trend', body });
}

function trendOf({ axis, verdict, advice, exchanged, figure, rows }: ShownTrend): Html {
  const [, ...said] = verdict.split(/ {2,}/);
  return html`<section>
<h2>Axis ${axis}: ${said.join(', ')}</h2>
${exchanged === undefined ? '' : html`<p class="problem">With axis ${exchanged}: ${EXCHANGED}</p>`}
<ul>${advice.map((line) => html`<li>${line}</li>`)}</ul>
${figureOf(figure)}
<section class="scroll" aria-label="Readings of axis ${axis}" tabindex="0">
<table><caption>Readings of axis ${axis}; ${SPAN}</caption>
<thead><tr><th scope="col">reading</th><th scope="col">day</th><th scope="col">frequency</th><th scope="col">how it stands</th><th scope="col">damping ratio</th><th scope="col">changed before it</th></tr></thead>
<tbody>${rows.map(
    (row) =>
      html`<tr><th scope="row"><a href="/logbook/${row.name.replace(/^entry /, '')}">${row.name}</a></th><td>${row.on}</td><td>${row.frequency}</td><td>${row.state}</td><td>${row.damping}</td><td>${row.changes}</td></tr>`,
  )}</tbody></table>
</section>
</section>`;
}

/**
 * Entries before a change beside entries after it, with the form that asks for them.
 * @param parts - What was asked for, and what came of it or is wrong with it.
 * @returns The document.
 */
export function comparePage({ asked, found, problem }: ComparePageParts): string {
  const body = html`<h1>Compare</h1>
${problem !== undefined && problemHtml(problem, COMPARE_FIELDS)}
${found !== undefined && comparisonOf(found)}
<form action="/compare" method="get">
<fieldset><legend>Entries of the logbook</legend>
<div class="fields">
<p><label for="before">Before the change</label><input type="text" id="before" name="before" value="${asked.before}" inputmode="numeric" required aria-describedby="numbers"></p>
<p><label for="after">After it</label><input type="text" id="after" name="after" value="${asked.after}" inputmode="numeric" required aria-describedby="numbers"></p>
<p><label for="level">Ripples tolerated in proof prints, % of contrast</label><input type="text" id="level" name="level" value="${asked.level}" inputmode="decimal"></p>
</div>
<p class="hint" id="numbers">Numbers of entries, several with commas; <a href="/logbook">the logbook</a> lists them.</p>
<p class="choice"><input type="checkbox" id="sameLight" name="sameLight" value="yes"${asked.sameLight ? trusted(' checked') : ''}> <label for="sameLight">${COMPARE_FIELDS[0].label}</label></p>
</fieldset>
<p><button type="submit" class="main">Compare</button></p>
</form>`;
  return page({ title: 'Compare', nav: 'compare', body });
}

function comparisonOf({ sections, figure }: ShownComparison): Html {
  const { verdict, meaning, numbers, steps, notes, next } = sections;
  const list = (lines: readonly string[]) =>
    lines.length === 0
      ? ''
      : html`<ul>${lines.map((line) => html`<li>${inFieldWords(line, COMPARE_FIELDS).replaceAll(/ {2,}/g, ', ')}</li>`)}</ul>`;
  return html`<section>
<h2 class="verdict">${verdict.replaceAll(/ {2,}/g, ', ')}</h2>
<p>${meaning}</p>
${figure === undefined ? '' : figureOf(figure)}
<h3>Numbers</h3>
${list([...numbers, SPAN])}
${
  steps.length === 0
    ? ''
    : html`<table><caption>Ripple contrast at each acceleration</caption>
<thead><tr><th scope="col">acceleration</th><th scope="col">before</th><th scope="col">after</th></tr></thead>
<tbody>${steps.map(([at, one, other]) => html`<tr><th scope="row">${at}</th><td>${one}</td><td>${other}</td></tr>`)}</tbody></table>`
}
${notes.length === 0 ? '' : html`<h3>Notes</h3>${list(notes)}`}
<h3>Next</h3>
${list(next)}
</section>`;
}

function emptyPage(title: string, nav: 'logbook' | 'trend'): string {
  return page({
    title,
    nav,
    body: html`<h1>${title}</h1>
<p>The logbook has no entries yet. <a href="/">Measure a photo</a> and save it.</p>`,
  });
}

function machineForm(
  action: string,
  machines: readonly string[],
  machine: string | undefined,
  all?: string,
): Html | '' {
  if (machines.length < (all === undefined ? 2 : 1)) return '';
  const option = (value: string, name: string, isChosen: boolean) =>
    html`<option value="${value}"${isChosen ? trusted(' selected') : ''}>${name}</option>`;
  return html`<form action="${action}" method="get" class="choose">
<label for="machine">Machine</label>
<select id="machine" name="machine">${all === undefined ? '' : option('', all, machine === undefined)}${machines.map((name) => option(name, name, name === machine))}</select>
<button type="submit">Show</button>
</form>`;
}
