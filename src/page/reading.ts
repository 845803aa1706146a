import type { Reading } from '../reading/schema.js';
import { accelerationPart } from '../report/charts/acceleration.js';
import type { ReadingWithFace } from '../report/charts/strip.js';
import type { Row } from '../report/recordRows.js';
import type { SheetFigure, SheetSection, SheetSide } from '../report/sheet/sheet.js';
import { Problem, save, type MeasureResult } from './api.js';
import { button, drawing, h, newId, put, textScale } from './dom.js';
import { inPageWords } from './fields.js';
import { heightsPart } from './heights.js';

/** What is known of the job whose result is shown. */
export interface ShownResult {
  readonly id: string;
  readonly result: MeasureResult;
  /** Whether it can be saved. */
  readonly logbook: boolean;
}

/**
 * A reading in the order of reading: verdict, what it is good enough for, the picture, why, numbers, assumptions, what next.
 * @param shown - The reading and its job.
 * @returns The part of the page; its heading can take the focus.
 */
export function readingPart({ id, result, logbook }: ShownResult): HTMLElement {
  const [side] = result.sheet.sides;
  const reading = singleOf(result);
  const refused = reading?.proposal.state === 'refused';
  const next = section(side, 'Next');
  return h(
    'div',
    { class: refused ? 'verdict-of refused' : 'verdict-of' },
    header(side, refused ? next : []),
    picture(reading, result, side),
    actions(id, result, logbook),
    h(
      'div',
      { class: 'sections' },
      ...side.sections.map((one) => sectionPart(one)).filter((one) => one !== undefined),
    ),
    h(
      'p',
      { class: 'caution' },
      'A printer has moving and hot parts. Raise accelerations only beside the machine, ready to stop it, and within its maker’s limits; local rules come first.',
    ),
  );
}

/** The reading that the charts are of: of several photos, the first one used. */
function singleOf({ reading }: MeasureResult): Reading | undefined {
  if (reading.schema === 'stillband/reading@1') return reading;
  return (reading.photos.find(({ use }) => use === 'used') ?? reading.photos[0])?.reading;
}

function section(side: SheetSide, name: string): readonly string[] {
  return side.sections.find((one) => one.name === name)?.lines ?? [];
}

/** The verdict, large; of a refusal the reason stands where the number would be, and beside it what to do. */
function header(side: SheetSide, next: readonly string[]): HTMLElement {
  const [first] = next;
  return h(
    'header',
    {},
    h(
      'div',
      {},
      side.heading !== '' && h('p', { class: 'of' }, side.heading),
      h(
        'h2',
        { tabindex: -1, id: 'verdict' },
        h('span', { class: 'axis-name' }, `${side.axis}: `),
        said(side.answer),
      ),
      side.rest !== '' && h('p', { class: 'rest' }, said(side.rest)),
      side.goodFor !== '' && h('p', { class: 'good' }, said(side.goodFor)),
      first !== undefined && h('p', { class: 'advice' }, said(inPageWords(first))),
      h('p', { class: 'belongs' }, side.belongs),
      h(
        'p',
        { class: 'jumps' },
        ...['Why', 'Next']
          .filter((name) => section(side, name).length > 0)
          .map((name) =>
            h('a', { href: `#part-${name.toLowerCase()}` }, name === 'Why' ? 'Why' : 'What next'),
          ),
        h('a', { href: '#keep' }, 'Save and hand on'),
      ),
    ),
    figure(side.mark, 'mark'),
  );
}

function picture(reading: Reading | undefined, result: MeasureResult, side: SheetSide): HTMLElement {
  const parts: HTMLElement[] = [];
  const hasHeights = reading !== undefined && hasFace(reading) && reading.heights.length > 0;
  if (hasHeights) parts.push(heightsPart(reading, result.view));
  // The first picture of a sheet is the strip of charts, which is drawn here as wide as the page.
  const others = hasHeights ? side.pictures.slice(1) : side.pictures;
  const { proposal } = reading ?? {};
  for (const one of others) {
    if (proposal?.state === 'proof' && one.alt.startsWith('Ripple contrast against acceleration')) continue;
    parts.push(figure(one, 'whole'));
  }
  if (proposal?.state === 'proof') parts.push(accelerationBox(proposal));
  return h('div', { class: 'pictures' }, ...parts);
}

function hasFace(reading: Reading): reading is ReadingWithFace {
  return reading.face !== undefined;
}

function accelerationBox(proposal: Parameters<typeof accelerationPart>[0]): HTMLElement {
  const box = h('figure', { class: 'whole' });
  new ResizeObserver(() => {
    const width = Math.max(300, box.clientWidth / textScale());
    const { svg, heightPx } = accelerationPart(proposal, { left: 0, top: 0, width });
    const alt = 'Ripple contrast against acceleration; the numbers are listed below.';
    const made = drawing(svg, [width, heightPx], alt);
    made.style.width = '100%';
    made.style.height = 'auto';
    put(box, made);
  }).observe(box);
  return box;
}

function sectionPart({ name, lines = [], rows = [], figure: shown }: SheetSection): HTMLElement | undefined {
  if (lines.length === 0 && rows.length === 0 && shown === undefined) return undefined;
  return h(
    'section',
    {},
    h('h3', { id: `part-${name.toLowerCase().replaceAll(/\W+/g, '-')}`, tabindex: -1 }, name),
    shown !== undefined && figure(shown, 'inline'),
    lines.length > 0 && h('ul', {}, ...lines.map((line) => h('li', {}, said(inPageWords(line))))),
    rows.length > 0 && table(rows),
  );
}

function table(rows: readonly Row[]): HTMLElement {
  return h(
    'table',
    {},
    h(
      'tbody',
      {},
      ...rows.map(([what, value]) => h('tr', {}, h('th', { scope: 'row' }, what), h('td', {}, said(value)))),
    ),
  );
}

function figure({ svg, widthPx, heightPx, alt, caption }: SheetFigure, kind: string): HTMLElement {
  const made = drawing(svg, [Math.ceil(widthPx), Math.ceil(heightPx)], alt);
  return h('figure', { class: kind }, made, caption !== '' && h('figcaption', {}, caption));
}

/** A ± stays with both its numbers, and a unit with its own. */
function said(text: string): string {
  return text.replaceAll(' ± ', '\u00a0±\u00a0').replaceAll('\u2009', '\u202f');
}

function actions(id: string, result: MeasureResult, logbook: boolean): HTMLElement {
  const told = h('span', { role: 'status', class: 'told' });
  const link = (file: string, text: string) =>
    h('a', { class: 'button', href: `/api/jobs/${id}/${file}`, download: file.split('?')[0] }, text);
  const single = result.reading.schema === 'stillband/reading@1';
  const saving = logbook ? savePart(id) : undefined;
  return h(
    'div',
    { class: 'result-actions', id: 'keep', tabindex: -1 },
    h(
      'p',
      { class: 'actions' },
      button('Copy the numbers', () => {
        void copy(result.text).then((done) => {
          put(told, done ? 'Copied.' : 'This browser does not let a page copy: select the numbers below.');
        });
      }),
      link('sheet.pdf?paper=a4', 'Sheet (PDF)'),
      link('sheet.html', 'Sheet (HTML)'),
      link('reading.json', 'JSON'),
      ...(single ? [link('heights.csv', 'CSV')] : []),
      ' ',
      told,
    ),
    saving ??
      h(
        'p',
        { class: 'help' },
        'No logbook is open: start stillband serve with --logbook DIR to keep readings.',
      ),
  );
}

function savePart(id: string): HTMLElement {
  const note = h('textarea', { id: newId('note'), rows: 2 });
  const changed = h('input', { id: newId('changed'), placeholder: 'like belt-tension, nozzle' });
  const told = h('div', { class: 'told', 'aria-live': 'polite' });
  const press = button(
    'Save',
    () => {
      press.disabled = true;
      put(told, 'Saving…');
      void keep();
    },
    { class: 'main' },
  );
  const form = h(
    'div',
    { class: 'grid' },
    h(
      'p',
      { class: 'field' },
      h('label', { for: changed.id }, 'What was changed on the machine since the last reading'),
      changed,
      h('span', { class: 'help' }, 'Several with commas; may stay empty.'),
    ),
    h('p', { class: 'field' }, h('label', { for: note.id }, 'Note'), note),
  );
  return h(
    'details',
    { class: 'saving' },
    h('summary', { class: 'button' }, 'Save to the logbook'),
    form,
    h('p', { class: 'actions' }, press),
    told,
  );

  async function keep(): Promise<void> {
    const list = changed.value
      .split(',')
      .map((one) => one.trim())
      .filter((one) => one !== '');
    const text = note.value.trim();
    try {
      const { entry, head, notes } = await save(id, {
        ...(text === '' ? {} : { note: text }),
        ...(list.length === 0 ? {} : { changed: list }),
      });
      form.hidden = true;
      press.hidden = true;
      put(
        told,
        h(
          'p',
          {},
          h('b', {}, `Saved as entry ${entry}. `),
          h('a', { href: `/logbook/${entry}` }, 'Open it in the logbook'),
        ),
        ...notes.map((text) => h('p', {}, text)),
        h('p', {}, 'Head: ', h('code', {}, head)),
        h('p', { class: 'help' }, 'Kept elsewhere, it shows later whether anything was changed.'),
      );
    } catch (error) {
      press.disabled = false;
      if (!(error instanceof Problem)) throw error;
      put(told, h('p', { class: 'error' }, `${error.message} ${inPageWords(error.advice)}`));
    }
  }
}

/** A page that came by plain http has no clipboard; an old way works there. */
async function copy(text: string): Promise<boolean> {
  try {
    await navigator.clipboard.writeText(text);
    return true;
  } catch {
    const box = h('textarea', { class: 'visually-hidden', 'aria-hidden': 'true' }, text);
    document.body.append(box);
    box.select();
    // eslint-disable-next-line @typescript-eslint/no-deprecated -- the only way without a secure context
    const done = document.execCommand('copy');
    box.remove();
    return done;
  }
}
