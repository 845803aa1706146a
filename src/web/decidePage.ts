import {
  afterSections,
  afterSteps,
  decideSections,
  DECIDE_CAUTIONS,
  LIMIT_FIELDS,
  missingWords,
  verdictOf,
  type ShaperDecision,
  type SheetFigure,
} from '../index.js';
import { inFieldWords, problemHtml } from './fieldWords.js';
import { html, page, trusted, type Html } from './html.js';
import type { WebError } from './problem.js';
import type { AxisChoice, Decided } from './worker.js';

/** The two pages that take the same readings and limits. */
export type DecidePage = 'decide' | 'after';

/** What was asked, as it came, so that it can be shown again. */
export interface AskedOf {
  /** Numbers of entries, as chosen. */
  readonly entries: readonly string[];
  /** Readings that were sent, as JSON text. */
  readonly texts: readonly string[];
  /** Limits by name, as typed; empty ones are not told. */
  readonly given: Readonly<Record<string, string>>;
}

/** What a page shows. */
export interface DecideParts {
  readonly which: DecidePage;
  readonly asked: AskedOf;
  /** What the logbook holds to decide by; absent where there is no logbook. */
  readonly known?: readonly AxisChoice[];
  readonly decided?: Decided;
  readonly problem?: WebError;
}

const TITLES: Readonly<Record<DecidePage, string>> = {
  decide: 'Decide what to enter',
  after: 'What comes after',
};

/**
 * A page that chooses shapers, or that tells what to do then: what was found, and the form to ask again.
 * @param parts - What it shows.
 * @returns The document as text.
 */
export function decidePage(parts: DecideParts): string {
  const { which, decided, problem } = parts;
  const body = html`<h1>${TITLES[which]}</h1>
${problem !== undefined && problemHtml(problem, LIMIT_FIELDS)}
${decided === undefined ? introduction(which) : which === 'decide' ? decisionOf(decided) : stepsOf(decided.decision)}
${decided !== undefined && onward(parts)}
${form(parts)}`;
  return page({ title: TITLES[which], nav: 'decide', body });
}

function introduction(which: DecidePage): Html {
  return which === 'decide'
    ? html`<p>Choose the reading of each axis and say what your machine may do. You get one shaper for each axis, how far the machine may drift before ripples return, and how far corners are cut.</p>`
    : html`<p>Choose the reading of each axis and say what your machine may do. You get what to enter where, a proof print up to your limit, and when to measure again.</p>`;
}

function decisionOf({ decision, charts }: Decided): Html {
  const cards = decision.axes.map((axis, i) => {
    const chart = charts[i];
    const { verdict, meaning, reading, load, drift, corner, slot, others, next } = decideSections(
      axis,
      decision,
    );
    const [name = '', ...answer] = verdict.split(/ {2,}/);
    return html`<section>
<h2>${name}</h2>
<p class="verdict">${answer.join(' ')}</p>
<p>${meaning}</p>
${chart !== undefined && figure(chart)}
${list([...reading, ...load, ...drift, ...corner, ...slot])}
${others.length > 0 && html`<details><summary>The other shapers</summary>${list(others)}</details>`}
${axis.state === 'no-choice' && list(next)}
</section>`;
  });
  return html`${cards}
${asked(decision)}
<h2>Mind</h2>
${list(DECIDE_CAUTIONS)}`;
}

function figure({ svg, widthPx, heightPx, alt }: SheetFigure): Html {
  return html`<figure class="scroll" tabindex="0" role="group" aria-label="Charts">
<svg viewBox="0 0 ${widthPx} ${heightPx}" width="${widthPx}" height="${heightPx}" role="img" aria-label="${alt}">${trusted(svg)}</svg>
</figure>`;
}

function asked(decision: ShaperDecision): Html | false {
  const missing = missingWords(decision);
  return (
    missing.length > 0 &&
    html`<h2>Not told yet</h2>
${list(missing)}`
  );
}

function stepsOf(decision: ShaperDecision): Html {
  const { enter, not, prove, read, repeat, cautions } = afterSections(afterSteps(decision));
  const part = (title: string, lines: readonly string[]) =>
    lines.length > 0 &&
    html`<h2>${title}</h2>
${list(lines)}`;
  return html`${enter.map(({ axis, lines }) => part(`Enter for axis ${axis}`, lines))}
${part('Not to be entered yet', not)}
${part(
  'Prove it',
  prove.map((line) => inFieldWords(line, LIMIT_FIELDS)),
)}
${part('Read the proof', read)}
${part('Measure again after', repeat)}
${part('Mind', cautions)}`;
}

function list(lines: readonly string[]): Html | false {
  return lines.length > 0 && html`<ul>${lines.map((line) => html`<li>${line}</li>`)}</ul>`;
}

/** The same readings and limits on the other page. */
function onward({ which, asked: { entries, texts, given } }: DecideParts): Html {
  const other = which === 'decide' ? 'after' : 'decide';
  return html`<form method="post" action="/${other}" enctype="multipart/form-data">
${entries.map((entry) => html`<input type="hidden" name="entry" value="${entry}">`)}
${hiddenReadings(texts)}
${Object.entries(given).map(([name, value]) => html`<input type="hidden" name="${name}" value="${value}">`)}
<p><button class="main">${TITLES[other]}</button></p>
</form>`;
}

function hiddenReadings(texts: readonly string[]): readonly Html[] {
  // Browsers take one line break after the tag away, and a reading begins with none.
  return texts.map((text) => html`<textarea name="reading" hidden>${text}</textarea>`);
}

function form(parts: DecideParts): Html {
  const { which, asked: was, known, decided, problem } = parts;
  return html`<form method="post" action="/${which}" enctype="multipart/form-data">
${
  decided === undefined
    ? readingFields(was, known)
    : html`<h2>With other limits</h2>
${was.entries.map((entry) => html`<input type="hidden" name="entry" value="${entry}">`)}
${hiddenReadings(was.texts)}
<p><a href="/${which}">Begin again with other readings</a></p>`
}
<fieldset><legend>Your limits</legend>
<p class="hint">Your machine’s limits come first. What is left empty is not guessed.</p>
<div class="fields">${LIMIT_FIELDS.map((field) => limitField(field, was, problem))}</div>
</fieldset>
<p><button class="main">${which === 'decide' ? 'Decide' : 'Tell what comes after'}</button></p>
</form>`;
}

function limitField(
  { name, label, help }: (typeof LIMIT_FIELDS)[number],
  { given }: AskedOf,
  problem: WebError | undefined,
): Html {
  const value = given[name] ?? '';
  const wrong = problem?.field === name;
  const isText = name === 'families' || name === 'bedAxis';
  return html`<p><label for="${name}">${label}</label>
<input id="${name}" name="${name}" value="${value}"${isText ? '' : trusted(' inputmode="decimal"')} autocomplete="off" aria-describedby="${name}-help"${wrong ? trusted(' aria-invalid="true"') : ''}>
<span class="hint" id="${name}-help">${help}</span></p>`;
}

/**
 * What is chosen where nothing was asked for.
 * @param known - What the logbook holds.
 * @returns The newest entry of each axis of the machine that has the newest of all, as in a form.
 */
export function newestOfEach(known: readonly AxisChoice[]): readonly string[] {
  const newest = known.flatMap(({ decidable: [first] }) => (first === undefined ? [] : [first]));
  const [latest] = newest.toSorted((a, b) => b.number - a.number);
  return newest.filter(({ machine }) => machine === latest?.machine).map(({ number }) => String(number));
}

function axisHtml({ machine, axis, decidable, newer }: AxisChoice, entries: readonly string[]): Html {
  const name = `Axis ${axis}${machine === undefined ? '' : ` of ${machine}`}`;
  const choices = decidable.map((line) => {
    const value = String(line.number);
    const id = `entry-${value}`;
    const day = line.takenOn === undefined ? `saved on ${line.savedAt.slice(0, 10)}` : `of ${line.takenOn}`;
    const photos = line.kind === 'joint-reading' ? '' : ', one photo';
    return html`<p class="choice"><input type="checkbox" name="entry" id="${id}" value="${value}"${entries.includes(value) ? trusted(' checked') : ''}>
<label for="${id}">${name}: ${verdictOf(line)}${photos}, ${day}, entry ${value}</label></p>`;
  });
  const others = newer.map((line) => `entry ${String(line.number)} (${verdictOf(line)})`).join(', ');
  const age = decidable.length > 0 ? 'newer, but nothing to decide by' : 'nothing to decide by';
  return html`${choices}
${newer.length > 0 && html`<p class="hint">${name}, ${age}: ${others}.</p>`}`;
}

function readingFields({ entries, texts }: AskedOf, known: readonly AxisChoice[] | undefined): Html {
  const kept = texts.length > 0 && html`<p>The readings that were sent are kept.</p>${hiddenReadings(texts)}`;
  const fromLogbook =
    known !== undefined &&
    known.length > 0 &&
    html`<fieldset><legend>From the logbook</legend>
<p class="hint">Readings with a frequency by a ladder, the newest of each axis first. Choose one of each axis, of one machine.</p>
${known.map((axis) => axisHtml(axis, entries))}
</fieldset>`;
  return html`${fromLogbook}
<fieldset><legend>${fromLogbook === false ? 'Readings' : 'Or from files'}</legend>
<p class="hint">The file that “stillband measure --json” wrote, or that the measuring page lets you download.</p>
${kept}
<div class="fields">
<p><label for="file-1">Reading of one axis</label><input type="file" id="file-1" name="file" accept=".json,application/json"></p>
<p><label for="file-2">Reading of the other axis</label><input type="file" id="file-2" name="file" accept=".json,application/json"></p>
</div></fieldset>`;
}
