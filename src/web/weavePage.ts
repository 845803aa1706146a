import {
  optionName,
  PLACEHOLDER_HELP,
  READ_FIELDS,
  RECORD_FLAGS,
  WEAVE_CAUTIONS,
  WEAVE_FIELDS,
  type JobField,
} from '../index.js';
import { inFieldWords, type FlagAndField } from './fieldWords.js';
import { html, page, trusted, type Html } from './html.js';
import type { JobShown, JobTelling, WeaveShown } from './jobFileTasks.js';
import type { WebError } from './problem.js';

/** What can be done with a job file. */
export const JOB_ACTIONS = ['read', 'show', 'weave'] as const;
/** One of them. */
export type JobAction = (typeof JOB_ACTIONS)[number];

/** What the page shows. */
export interface WeaveParts {
  /** What was told, to be shown again; a file's own bytes are not kept. */
  readonly asked: JobTelling;
  readonly read?: JobShown;
  readonly planned?: WeaveShown;
  readonly problem?: WebError;
}

/** The longest pattern that is taken. */
const MOST_LETTERS = 2000;

/** Fields of the print record that reading and weaving go by; those whose help is no name have a label of their own. */
const OF_PRINT: readonly (readonly [name: string, label?: string])[] = [
  ['axis', 'Axis'],
  ['speed'],
  ['acceleration'],
  ['cornerSpeed'],
  ['layerHeight'],
  ['firstLayerHeight'],
  ['layers'],
  ['faceWidth'],
  ['faceHeight'],
  ['leadingCorner', 'Leading corner'],
  ['damping'],
  ['ladder', 'Kind of ladder'],
  ['fromHz'],
  ['toHz'],
  ['firstLayer'],
  ['lastLayer'],
  ['bands', 'Steps of the ladder'],
  ['accelerationBands', 'Steps of a proof print'],
];

interface ShownField {
  readonly name: string;
  readonly label: string;
  readonly hint?: string;
  readonly choices?: readonly string[] | undefined;
  readonly path?: string;
}

const UNITS = new Set(['mm', 'mm/s', 'mm/s²', 'Hz']);

/** The flags of the print record that the page has fields for. */
export const PRINT_FIELDS: readonly (ShownField & FlagAndField)[] = OF_PRINT.flatMap(([name, own]) =>
  RECORD_FLAGS.filter(({ flag }) => optionName(flag) === name).map(({ flag, help, example, path }) => {
    const [, unit] = flag.split(/[ <>]+/);
    const hint = `like ${example}`;
    if (own !== undefined) return { name, flag, label: own, hint: `${help}; ${hint}`, path };
    const told = `${help.charAt(0).toUpperCase()}${help.slice(1)}`;
    const label = unit !== undefined && UNITS.has(unit) ? `${told}, ${unit}` : told;
    return { name, flag, label, hint, path };
  }),
);

const TEMPLATE: ShownField = {
  name: 'template',
  label: 'Your line, with placeholders',
  hint: 'like CALM {axis} {hz}, which is the command of nobody’s machine: look up what yours takes',
};

/** What stands on the page in place of the commands' flags. */
const IN_PLACE_OF_FLAGS: readonly FlagAndField[] = [
  ...PRINT_FIELDS,
  ...READ_FIELDS,
  ...WEAVE_FIELDS,
  { flag: '--template', label: TEMPLATE.label },
  { flag: '--print', label: 'Print record' },
];

const said = (text: string) => inFieldWords(text, IN_PLACE_OF_FLAGS);

function shown({ name, label, help, example, choices }: JobField): ShownField {
  const says = help.toLowerCase() === label.toLowerCase() ? '' : `${help}; `;
  return { name, label, choices, hint: `${says}like ${example}` };
}

/** What else the page has fields for. */
export const JOB_TEXTS: readonly string[] = [...READ_FIELDS, TEMPLATE, ...WEAVE_FIELDS].map(
  ({ name }) => name,
);

/**
 * The page that reads a job file, or puts lines into a copy of it.
 * @param parts - What it shows.
 * @returns The document as text.
 */
export function weavePage(parts: WeaveParts): string {
  const { asked, read, planned, problem } = parts;
  const wrong = problem && { ...problem, field: fieldOf(problem) };
  const body = html`<h1>Read and weave a job file</h1>
${problemHtml(wrong)}
${read && readHtml(read)}
${planned && plannedHtml(planned)}
${
  read === undefined &&
  planned === undefined &&
  html`<p>Reads the file that your machine prints, and fills the print record from it; or puts a line of yours into a copy of it, layer by layer, with the ladder’s frequency filled in. <strong>stillband writes no machine command of its own</strong>: without your line there is nothing to put in. Nothing else is changed.</p>
<p>The file is read on the computer that serves this page, and nothing of it is kept: it is removed with the answer.</p>`
}
${(read ?? planned) !== undefined && html`<h2>Go on</h2><p>Choose the job file again: it was not kept.</p>`}
${form(asked, wrong)}
<h2>Mind</h2>
${list(WEAVE_CAUTIONS)}`;
  return page({ title: 'Read and weave a job file', nav: 'plan', body });
}

/** Which field a mistake is about. */
function fieldOf({ code, field }: WebError): string | undefined {
  if (code === 'template-invalid') return 'template';
  if (code === 'pattern-invalid') return 'frequencyLine';
  if (code.startsWith('job-') || code === 'file-empty') return 'job';
  const known = ['job', 'record', ...JOB_TEXTS];
  if (field === undefined || known.includes(field)) {
    return field ?? (code.startsWith('record-') ? 'record' : undefined);
  }
  return PRINT_FIELDS.find(({ path }) => path === field)?.name ?? 'record';
}

function problemHtml(problem: WebError | undefined): Html | undefined {
  return (
    problem &&
    html`<div class="problem" role="alert"><p>${said(problem.message)}</p><p>${said(problem.advice)}</p>
<p>What was typed is kept; choose the job file again. <span class="code">${problem.code}</span></p></div>`
  );
}

function readHtml({ sections, recordFile }: JobShown): Html {
  const { verdict, face, layers, time, ladder, record, notes, next } = sections;
  const part = (title: string, lines: readonly string[]) =>
    lines.length > 0 && html`<h2>${title}</h2>${list(lines)}`;
  return html`<p class="verdict">${verdict.split(/ {2,}/).join(' · ')}</p>
${part('Face', face)}
${part('Layers', layers)}
${part('Time', time)}
${part('Ladder', ladder)}
${part('Record', record)}
<p><a class="button" href="data:application/json;charset=utf-8,${encodeURIComponent(recordFile)}" download="filled.print.json">Take the filled record</a></p>
${part('Note', notes)}
${part('Next', next)}`;
}

function plannedHtml({ count, sections: { lines, notes } }: WeaveShown): Html {
  return html`<p class="verdict">${count} ${count === 1 ? 'line' : 'lines'} of yours would be put in</p>
${list(lines)}
${notes.length > 0 && html`<h2>Note</h2>${list(notes)}`}`;
}

function list(lines: readonly string[]): Html {
  return html`<ul>${lines.map((line) => html`<li>${said(line)}</li>`)}</ul>`;
}

function form({ record, fields, texts }: JobTelling, problem: WebError | undefined): Html {
  const field = (one: ShownField) => fieldHtml(one, texts[one.name], problem);
  const isOpen = Object.keys(fields).length > 0 || PRINT_FIELDS.some(({ name }) => name === problem?.field);
  return html`<form method="post" action="/weave" enctype="multipart/form-data">
<fieldset><legend>Files</legend>
${record !== undefined && html`<p>The print record that was sent is kept; another file takes its place.</p><textarea name="recordText" hidden>${record}</textarea>`}
<div class="fields">
<p><label for="job">Job file</label><input type="file" id="job" name="job" required${marks('job', problem)}>${wrongHtml('job', problem)}</p>
<p><label for="record">Print record</label><input type="file" id="record" name="record" accept=".json,application/json"${marks('record', problem)}>${wrongHtml('record', problem)}</p>
</div>
<details${isOpen && trusted(' open')}><summary>Tell the print here, or tell more of it</summary>
<p class="hint">What stands here wins over the print record.</p>
<div class="fields">${PRINT_FIELDS.map((one) => fieldHtml(one, fields[one.name], problem))}</div>
</details>
</fieldset>
<fieldset><legend>Read the job</legend>
<div class="fields">${READ_FIELDS.map((one) => field(shown(one)))}</div>
<p><button type="submit" name="do" value="read">Read the job</button></p>
</fieldset>
<fieldset><legend>Put your line into a copy</legend>
${field(TEMPLATE)}
<details><summary>Placeholders</summary>
<ul>${Object.entries(PLACEHOLDER_HELP).map(([name, help]) => html`<li><code>{${name}}</code> ${help}</li>`)}</ul></details>
<p class="hint">Your limits are asked for, not guessed: {hz} needs the first, {acceleration} the second, as you and your machine’s maker allow.</p>
<div class="fields">${WEAVE_FIELDS.map((one) => field(shown(one)))}</div>
<p class="row"><button type="submit" name="do" value="show">Show the lines</button> <button class="main" type="submit" name="do" value="weave">Weave and take the copy</button></p>
</fieldset>
</form>`;
}

function fieldHtml(
  { name, label, hint, choices }: ShownField,
  typed: string | undefined,
  problem: WebError | undefined,
): Html {
  const described = hint === undefined ? undefined : `${name}-help`;
  const control =
    choices === undefined
      ? html`<input type="text" id="${name}" name="${name}" value="${typed ?? ''}" maxlength="${MOST_LETTERS}" autocomplete="off" spellcheck="false"${marks(name, problem, described)}>`
      : html`<select id="${name}" name="${name}"${marks(name, problem, described)}>${choices.map(
          (choice) =>
            html`<option value="${choice}"${choice === typed && trusted(' selected')}>${choice}</option>`,
        )}</select>`;
  return html`<p><label for="${name}">${label}</label>${control}${wrongHtml(name, problem)}
${described !== undefined && html`<span class="hint" id="${described}">${hint}</span>`}</p>`;
}

function wrongHtml(name: string, problem: WebError | undefined): Html | undefined {
  return problem?.field === name ? html`<strong id="wrong">${said(problem.message)}</strong>` : undefined;
}

/** What a field says of itself beside its label: its hint, and what is wrong with it. */
function marks(name: string, problem: WebError | undefined, described?: string): Html {
  const isWrong = problem?.field === name;
  const by = [...(isWrong ? ['wrong'] : []), ...(described === undefined ? [] : [described])];
  return html`${isWrong && trusted(' aria-invalid="true"')}${by.length > 0 && html` aria-describedby="${by.join(' ')}"`}`;
}
