import {
  PLAN_FIELDS,
  planWords,
  towerWords,
  type Plan,
  type PlanField,
  type PlanTexts,
  type TestTower,
} from '../index.js';
import { inFieldWords, problemHtml } from './fieldWords.js';
import { html, page, type Html } from './html.js';
import type { WebError } from './problem.js';

/** What was typed, by the name of its field, so that it can be shown again. */
export type Typed = Readonly<Record<string, string>>;

/** A page with a form and, once it was filled in, a result. */
interface FormPage<Result> {
  readonly typed: Typed;
  readonly result?: Result;
  readonly problem?: WebError;
}

/**
 * The page that plans a test tower.
 * @param parts - What was typed, and the plan or what is wrong.
 * @param hasLogbook - Whether there is a logbook whose readings may narrow the ladder.
 * @returns The document as text.
 */
export function planPage({ typed, result, problem }: FormPage<Plan>, hasLogbook: boolean): string {
  const fields: readonly PlanField[] = PLAN_FIELDS;
  const [needed, others] = [true, false].map((isNeeded) =>
    fields.filter((field) => (field.needed !== undefined) === isNeeded),
  );
  const refine = {
    name: 'refine',
    label: 'Logbook entries of a first tower, with commas: a narrower ladder',
  };
  const body = html`<h1>Plan a test tower</h1>
${problem && problemHtml(problem, PLAN_FIELDS)}
${result === undefined ? html`<p>From what you know: the tower, its ladder, speed and acceleration, and how well the frequency will be known before anything is printed. One tower tells two axes.</p>` : planHtml(result, typed)}
<form method="get" action="/plan">
<fieldset><legend>Asked for, never guessed</legend>
<p class="hint">The maker’s limits come first: look them up.</p>
<div class="fields">${(needed ?? []).map((field) => fieldHtml(field, typed, true))}</div></fieldset>
<fieldset><legend>Where you know it</legend>
<div class="fields">${[...(others ?? []), ...(hasLogbook ? [refine] : [])].map((field) => fieldHtml(field, typed, false))}</div></fieldset>
<p><button class="main" type="submit">Plan</button></p>
</form>
<p>Without a plan: <a href="/tower">a tower by its size</a>, <a href="/card">a marker card</a>. With your job file: <a href="/weave">read it, or put a line of yours into it</a>.</p>`;
  return page({ title: 'Plan a test tower', nav: 'plan', body });
}

type ShownField = Pick<PlanField, 'name' | 'label' | 'preset'>;

function fieldHtml({ name, label, preset = '' }: ShownField, typed: Typed, isNeeded: boolean): Html {
  const value = typed[name] ?? preset;
  const control =
    name === 'turns'
      ? selectHtml(name, ['counterclockwise', 'clockwise'], value)
      : html`<input id="${name}" name="${name}" type="text" value="${value}" autocomplete="off"${isNeeded && html` required`}>`;
  return html`<p><label for="${name}">${label}</label>${control}</p>`;
}

function selectHtml(name: string, choices: readonly string[], value: string): Html {
  const options = choices.map(
    (choice) => html`<option value="${choice}"${choice === value && html` selected`}>${choice}</option>`,
  );
  return html`<select id="${name}" name="${name}">${options}</select>`;
}

function planHtml(plan: Plan, typed: Typed): Html {
  const words = planWords(plan);
  const query = (axis?: string) =>
    new URLSearchParams({ ...typed, ...(axis === undefined ? {} : { axis }) }).toString();
  const file = (name: string, said: string, axis?: string) =>
    html`<li><a href="/plan/${name}?${query(axis)}" download>${said}</a></li>`;
  const [expected = '', ...conditions] = words.expected;
  return html`<p class="verdict">expected ${expected}</p>
${list(conditions)}
<h2>Take with you</h2>
<ul>
${file('checklist.pdf', 'checklist to print (PDF)')}
${file('checklist.html', 'checklist as a page (HTML)')}
${file('tower.stl', 'the tower (STL, mm)')}
${plan.records.map(({ axis }) => file('record.json', `print record of axis ${axis}`, axis))}
${plan.records.map(({ axis }) => file('card.pdf', `marker card with the record of axis ${axis}`, axis))}
</ul>
<h2>Tower</h2>${list(words.tower)}
<h2>Set</h2>${list(words.set)}
<h2>Photo</h2>${list(words.photo)}
${words.notes.length > 0 && html`<h2>Note</h2>${list(words.notes)}`}
<h2>Why so</h2>${list(words.why)}
<h2>What matters</h2>
${words.choices.map(({ name, rows }) => tableHtml(name, rows))}
<h2>Next</h2>${list(words.next)}
<h2>Plan anew</h2>`;
}

/** Two columns, so that it fits a narrow screen: the option with its mark, and all that is said of it. */
function tableHtml(
  name: string,
  [[, what = '', ...heads] = [], ...rows]: readonly (readonly string[])[],
): Html {
  return html`<table><caption>${name}</caption>
<thead><tr><th scope="col">${what}</th><th scope="col">${heads.join('; ')}</th></tr></thead>
<tbody>${rows.map(
    ([mark = '', option = '', ...said]) =>
      html`<tr><th scope="row">${option}${mark !== '' && ' (taken)'}</th><td>${said.join('; ')}</td></tr>`,
  )}</tbody>
</table>`;
}

function list(lines: readonly string[]): Html {
  return html`<ul>${lines.map((line) => html`<li>${inFieldWords(line, PLAN_FIELDS)}</li>`)}</ul>`;
}

/** Fields of a tower by its size. */
export const TOWER_FIELDS = [
  { name: 'width', label: 'Width of the face, mm' },
  { name: 'height', label: 'Height, mm' },
  { name: 'slot', label: 'Slot in each face, mm wide (empty: none)' },
] as const satisfies readonly ShownField[];

/**
 * The page that draws a test tower by its size.
 * @param parts - What was typed, and the tower or what is wrong.
 * @returns The document as text.
 */
export function towerPage({ typed, result, problem }: FormPage<TestTower>): string {
  const words = result && towerWords(result);
  const body = html`<h1>Draw a test tower</h1>
${problem && problemHtml(problem, PLAN_FIELDS)}
${
  words === undefined
    ? html`<p>Two flat faces at right angles, sharp corners, a dent every 10 mm for counting heights, and a foot that says which end was down; for one wall or a spiral, without supports. <a href="/plan">A plan</a> finds the size, the ladder and the speed.</p>`
    : html`<p class="verdict">${words.size}</p>
<p><a class="button main" href="/tower/tower.stl?${new URLSearchParams(typed).toString()}" download>Take the tower (STL, mm)</a></p>
<h2>Faces</h2>${list(words.faces)}
<h2>Marks</h2>${list(words.marks)}
<h2>Next</h2>${list(words.next)}`
}
<form method="get" action="/tower">
<div class="fields">${TOWER_FIELDS.map((field) => fieldHtml(field, typed, field.name !== 'slot'))}
<p><label for="leadingCorner">Leading corner: left where the outline runs counterclockwise</label>${selectHtml('leadingCorner', ['left', 'right'], typed['leadingCorner'] ?? 'left')}</p></div>
<p><button class="main" type="submit">Draw</button></p>
</form>`;
  return page({ title: 'Draw a test tower', nav: 'plan', body });
}

/**
 * The page that draws a marker card.
 * @param parts - What was typed, and what is wrong; with a result the card can be taken.
 * @param sizes - Pages that it can be drawn on.
 * @returns The document as text.
 */
export function cardPage(
  { typed, result = false, problem }: FormPage<boolean>,
  sizes: readonly string[],
): string {
  const query = new URLSearchParams(typed).toString();
  const body = html`<h1>Draw a marker card</h1>
${problem && problemHtml(problem, PLAN_FIELDS)}
${
  result
    ? html`<p><a class="button main" href="/card/card.pdf?${query}" download>Take the card (PDF)</a> <a class="button" href="/card/card.svg?${query}" download>as SVG</a></p>
${list([
  'print it at 100 %, not fitted to the page',
  'measure its check length with calipers, and tell what it measures where it is off',
  'hold it in the plane of the face, flush with it, in the same light',
])}`
    : html`<p>A card to hold beside the tower: it tells the scale and, with a machine’s name, which machine the photo is of. <a href="/plan">A plan</a> also makes cards that carry the whole print record.</p>`
}
<form method="get" action="/card">
<div class="fields">
<p><label for="size">Page</label>${selectHtml('size', sizes, typed['size'] ?? 'a4')}</p>
${fieldHtml({ name: 'machine', label: 'Machine, by your own name' }, typed, false)}
${fieldHtml({ name: 'checkLength', label: 'Check length of an earlier print, mm' }, typed, false)}
</div>
<p><button class="main" type="submit">Draw</button></p>
</form>`;
  return page({ title: 'Draw a marker card', nav: 'plan', body });
}

/**
 * What of a form belongs to a plan.
 * @param typed - What was typed.
 * @returns By option name.
 */
export function planTexts(typed: Typed): PlanTexts {
  return Object.fromEntries(
    PLAN_FIELDS.flatMap(({ name }) => {
      const text = typed[name];
      return text === undefined ? [] : [[name, text] as const];
    }),
  );
}
