import type { RawObject } from '../print/overrides.js';
import { AXIS_MARK_PX, axisMark, axisMarkWords } from '../report/charts/axisMark.js';
import { drawing, equip, h, newId, put, s, type Child } from './dom.js';
import { EMPTY, FIELDS, formOf, isShown, needed, type Asked, type Field, type FormState } from './fields.js';
import type { Remembered } from './remember.js';

/** The form of the print record. */
export interface Form {
  readonly element: HTMLElement;
  readonly state: () => FormState;
  /** The record that the form was filled from. */
  readonly base: () => RawObject | undefined;
  /** Fills it from a record; what it says of is replaced. */
  readonly fill: (record: RawObject, from: string) => void;
  /** What is assumed where a field is empty, and prints told before. */
  readonly offer: (
    assumed: Readonly<Record<string, string>>,
    prints: readonly (Remembered & { readonly from: string })[],
  ) => void;
  /** Marks fields: what is wrong of each that cannot be used, and those that are still needed. */
  readonly mark: (wrong: ReadonlyMap<string, string>, missing?: readonly string[]) => void;
  readonly focusField: (name: string) => void;
  /** The field of a path in the record, if the form has it. */
  readonly fieldAt: (path: string) => string | undefined;
}

/** What the form tells the page. */
export interface FormActs {
  /** Something was filled in and left. */
  readonly changed: (name: string) => void;
  readonly load: (file: File) => void;
  readonly save: () => void;
}

const ASKED: readonly (readonly [Asked, string, string])[] = [
  ['ladder', 'Which frequency?', 'A test tower, printed while the shaper’s frequency climbs.'],
  ['spacing', 'Has it moved?', 'A quick re-check by ripple spacing; needs no ladder.'],
  ['proof', 'Is it quiet?', 'A proof print: the acceleration climbs, the shaper stays.'],
];

const MAIN = [
  'axis',
  'leadingCorner',
  'speed',
  'acceleration',
  'layerHeight',
  'layers',
  'faceWidth',
  'faceHeight',
];
const LADDER = [
  'fromHz',
  'toHz',
  'firstLayer',
  'lastLayer',
  'fromMm',
  'toMm',
  'hz',
  'bands',
  'points',
  'ladders',
];
const MORE: readonly (readonly [string, readonly string[]])[] = [
  ['Motion', ['cornerSpeed', 'shaper', 'damping', 'hzMeans', 'alongWall', 'seam', 'direction']],
  ['Face', ['firstLayerHeight', 'faceBottom', 'slots', 'knownPitches', 'photoOf']],
  ['Scale', ['reference', 'behindFace', 'checkLength', 'dpi', 'twoPoints']],
  ['Pen line', ['penHeight', 'penPlusMinus']],
  ['For the record', ['printedOn', 'material', 'title', 'notes']],
];

type Control = HTMLInputElement | HTMLSelectElement | HTMLTextAreaElement;

interface Row {
  readonly element: HTMLElement;
  readonly control: Control | HTMLFieldSetElement;
  readonly read: () => string;
  readonly write: (text: string) => void;
  readonly error: HTMLElement;
  readonly assumed: HTMLElement;
}

/**
 * The form: few fields first, the rest folded; what is assumed where one is empty is said at the field.
 * @param acts - What becomes of what the person does.
 * @returns The form.
 */
export function makeForm(acts: FormActs): Form {
  let base: RawObject | undefined;
  let asked: Asked = EMPTY.asked;
  let assumedValues: Readonly<Record<string, string>> = {};
  const rows = new Map<string, Row>();
  for (const field of FIELDS.values()) rows.set(field.name, makeRow(field, changed));
  for (const [name, text] of Object.entries(EMPTY.texts)) rows.get(name)?.write(text);
  const ends = select('endsIn', [
    ['layers', 'by layer'],
    ['mm', 'by height'],
  ]);
  ends.addEventListener('change', () => {
    changed('endsIn');
  });
  const endsRow = h('p', { class: 'field' }, h('label', { for: ends.id }, 'Its ends are told'), ends);
  const was = h('input', { id: newId('was'), inputmode: 'decimal', placeholder: '41.0+-0.4' });
  was.addEventListener('change', () => {
    acts.changed('was');
  });
  const wasRow = h(
    'p',
    { class: 'field' },
    h('label', { for: was.id }, 'The earlier frequency ', h('span', { class: 'unit' }, 'Hz')),
    was,
    h('span', { class: 'help' }, 'With its ±, as the earlier report prints it; may stay empty.'),
  );
  const mark = h('div', { class: 'axis-drawing' });
  const askedSet = radios(
    'What do you want to know?',
    ASKED,
    () => asked,
    (value) => {
      asked = value;
      refresh();
      acts.changed('asked');
    },
  );
  const before = h('div', { class: 'before' });
  const loadInput = h('input', {
    id: newId('load'),
    type: 'file',
    accept: '.json,application/json',
    class: 'visually-hidden',
    on: {
      change: () => {
        const [file] = loadInput.files ?? [];
        loadInput.value = '';
        if (file !== undefined) acts.load(file);
      },
    },
  });
  const filled = h('p', { class: 'filled', role: 'status' });
  const more = h('details', { class: 'more' }, h('summary', {}, 'More about the print'));
  const moreNote = h(
    'p',
    { class: 'help' },
    'What stays empty is assumed where the result needs it; the reading says so.',
  );
  more.append(
    moreNote,
    ...MORE.map(([title, names]) =>
      h('fieldset', {}, h('legend', {}, title), h('div', { class: 'grid' }, ...names.map(rowOf))),
    ),
  );
  const element = h(
    'form',
    {
      class: 'record',
      novalidate: true,
      autocomplete: 'off',
      on: {
        submit: (event: SubmitEvent) => {
          event.preventDefault();
        },
      },
    },
    before,
    h(
      'p',
      { class: 'actions' },
      loadInput,
      h('label', { for: loadInput.id, class: 'button' }, 'Load a print record'),
      h('button', { type: 'button', on: { click: acts.save } }, 'Save what is told'),
    ),
    filled,
    askedSet.element,
    rowOf('machine'),
    h('div', { class: 'axis' }, rowOf('axis'), mark),
    h('div', { class: 'grid' }, ...MAIN.slice(1).map(rowOf)),
    h(
      'fieldset',
      { class: 'ladder' },
      h('legend', {}, 'Ladder'),
      h('div', { class: 'grid' }, rowOf('ladder'), endsRow, ...LADDER.map(rowOf)),
      rowOf('accelerationBands'),
      wasRow,
    ),
    more,
  );
  rows.get('axis')?.element.addEventListener('input', drawAxis);
  rows.get('ladder')?.element.addEventListener('change', refresh);
  refresh();
  drawAxis();
  return { element, state, base: () => base, fill, offer, mark: markWrong, focusField, fieldAt };

  function rowOf(name: string): HTMLElement {
    const row = rows.get(name);
    if (row === undefined) throw new RangeError(`Expected a field of the form but received ${name}`);
    return row.element;
  }

  function state(): FormState {
    return {
      asked,
      endsIn: ends.value === 'mm' ? 'mm' : 'layers',
      texts: Object.fromEntries([...rows].map(([name, { read }]) => [name, read()])),
      was: was.value.trim(),
    };
  }

  function changed(name: string): void {
    const row = rows.get(name);
    if (row !== undefined) wrongAt(row, undefined);
    refresh();
    acts.changed(name);
  }

  function refresh(): void {
    const now = state();
    for (const [name, { element: shown }] of rows) shown.hidden = !isShown(name, now);
    endsRow.hidden = now.texts['ladder'] !== 'linear';
    wasRow.hidden = asked !== 'spacing';
    const must = new Set(needed(now));
    for (const [name, row] of rows) {
      // A group of choices knows no such attribute.
      const isGroup = row.control instanceof HTMLFieldSetElement;
      equip(row.control, { 'aria-required': must.has(name) && !isGroup ? 'true' : undefined });
      // On a proof print the accelerations by height tell it.
      const value = name === 'acceleration' && asked === 'proof' ? undefined : assumedValues[name];
      const isAssumed = value !== undefined && row.read() === '' && !must.has(name);
      put(row.assumed, isAssumed && `assumed: ${value}`);
    }
  }

  function drawAxis(): void {
    const told = { axis: rows.get('axis')?.read().trim() ?? '', value: '? Hz' };
    const known = told.axis === '' ? { ...told, axis: 'Y' } : told;
    const size = [AXIS_MARK_PX.width, AXIS_MARK_PX.height] as const;
    put(
      mark,
      drawing(axisMark(known, { left: 0, top: 0 }).svg, size, axisMarkWords(known)),
      h(
        'p',
        { class: 'help' },
        told.axis === '' ? 'Shown for Y. ' : '',
        'Thick edge: the face in the photo. The value belongs to the axis at right angles to it, not to the one along it.',
      ),
    );
  }

  function fill(record: RawObject, from: string): void {
    base = record;
    const next = formOf(record);
    for (const [name, row] of rows) row.write(next.texts[name] ?? '');
    if (asked !== 'spacing' || next.asked === 'proof') {
      asked = next.asked;
      askedSet.show();
    }
    ends.value = next.endsIn;
    markWrong(new Map());
    refresh();
    drawAxis();
    put(filled, `Filled in from ${from}; look it over.`);
  }

  function offer(
    assumed: Readonly<Record<string, string>>,
    prints: readonly (Remembered & { readonly from: string })[],
  ): void {
    assumedValues = assumed;
    refresh();
    if (prints.length === 0) {
      put(before);
      return;
    }
    const choice = select('before', [
      ['', 'nothing: fill in'],
      ...prints.map(({ machine, axis, from }, i): [string, string] => [
        String(i),
        `${machine === '' ? 'a machine without a name' : machine}, axis ${axis} (${from})`,
      ]),
    ]);
    choice.addEventListener('change', () => {
      const print = choice.value === '' ? undefined : prints[Number(choice.value)];
      if (print !== undefined) {
        fill(print.record, `the last print of ${print.machine === '' ? 'this machine' : print.machine}`);
        acts.changed('before');
      }
    });
    put(before, h('p', { class: 'field' }, h('label', { for: choice.id }, 'Begin with'), choice));
  }

  /** What is merely missing is no mistake: it is not shouted at. */
  function markWrong(wrong: ReadonlyMap<string, string>, missing: readonly string[] = []): void {
    for (const [name, row] of rows) {
      const isMissing = missing.includes(name);
      row.element.classList.toggle('calm', isMissing);
      wrongAt(row, isMissing ? 'still needed' : wrong.get(name));
    }
  }

  function focusField(name: string): void {
    const row = rows.get(name);
    if (row === undefined) return;
    if (more.contains(row.element)) more.open = true;
    const target =
      row.control instanceof HTMLFieldSetElement ? row.control.querySelector('input') : row.control;
    target?.focus();
    row.element.scrollIntoView({ block: 'center' });
  }

  function fieldAt(path: string): string | undefined {
    const plain = path.replaceAll(/\[\d+\]/g, '');
    const all = [...FIELDS.values()];
    const exact = all.find((field) => field.path === plain && isShown(field.name, state()));
    return (exact ?? all.find((field) => plain.startsWith(field.path)))?.name;
  }
}

function wrongAt({ control, error }: Row, what: string | undefined): void {
  put(error, what);
  error.hidden = what === undefined;
  const wrong = what === undefined ? undefined : 'true';
  equip(
    control,
    control instanceof HTMLFieldSetElement ? { 'data-invalid': wrong } : { 'aria-invalid': wrong },
  );
}

function makeRow(field: Field, changed: (name: string) => void): Row {
  const id = newId(field.name);
  const error = h('span', { class: 'error', id: `${id}-error`, hidden: true });
  const assumed = h('span', { class: 'assumed', id: `${id}-assumed` });
  const help = h('span', { class: 'help', id: `${id}-help` }, field.help);
  const described = `${id}-error ${id}-assumed ${id}-help`;
  const left = () => {
    changed(field.name);
  };
  const label: readonly Child[] = [
    field.label,
    field.unit !== undefined && h('span', { class: 'unit' }, `\u00a0${field.unit}`),
  ];
  if (field.name === 'leadingCorner') return cornerRow(field, { id, error, assumed, help, left });
  if (field.name === 'reference') return referenceRow(field, { id, error, assumed, help, left });
  const control = makeControl(field, id);
  equip(control, { 'aria-describedby': described, on: { change: left } });
  return {
    element: h('p', { class: 'field' }, h('label', { for: id }, ...label), control, error, assumed, help),
    control,
    read: () => control.value,
    write: (text) => {
      control.value = text;
    },
    error,
    assumed,
  };
}

interface RowParts {
  readonly id: string;
  readonly error: HTMLElement;
  readonly assumed: HTMLElement;
  readonly help: HTMLElement;
  readonly left: () => void;
}

function makeControl(field: Field, id: string): Control {
  if (field.choices !== undefined) return select(id, [['', ''], ...field.choices], id);
  if (field.kind === 'lines') return h('textarea', { id, rows: 3 });
  return h('input', {
    id,
    type: field.kind === 'date' ? 'date' : 'text',
    inputmode: field.kind === 'number' ? 'decimal' : undefined,
    placeholder: field.example === undefined ? undefined : `like ${field.example}`,
    spellcheck: 'false',
    autocapitalize: 'off',
  });
}

/** Left or right is told faster by a picture than by a word. */
function cornerRow(field: Field, { id, error, assumed, help, left }: RowParts): Row {
  const inputs = (field.choices ?? []).map(([value, text]) => {
    const input = h('input', { type: 'radio', name: id, value, id: `${id}-${value}`, on: { change: left } });
    return {
      input,
      label: h('label', { for: input.id, class: 'choice' }, input, cornerDrawing(value), text),
    };
  });
  const control = h(
    'fieldset',
    { class: 'field corner-choice', 'aria-describedby': `${id}-error ${id}-help` },
    h('legend', {}, field.label),
    h('span', { class: 'choices' }, ...inputs.map(({ label }) => label)),
    error,
    assumed,
    help,
  );
  return {
    element: control,
    control,
    read: () => inputs.find(({ input }) => input.checked)?.input.value ?? '',
    write: (text) => {
      for (const { input } of inputs) input.checked = input.value === text;
    },
    error,
    assumed,
  };
}

/** The wall from the front: ripples begin at the corner that was turned last. */
function cornerDrawing(side: string): SVGSVGElement {
  const ripples = [4, 9, 15, 22].map((at, i) => {
    const x = side === 'left' ? 6 + at : 50 - at;
    return s('path', { d: `M${x} 6V34`, 'stroke-width': 2.4 - 0.5 * i });
  });
  const arrow = side === 'left' ? 'M14 40H42M38 37l4 3-4 3' : 'M42 40H14M18 37l-4 3 4 3';
  return s(
    'svg',
    { viewBox: '0 0 56 46', width: 56, height: 46, class: 'corner-drawing', 'aria-hidden': 'true' },
    s('rect', { x: 6, y: 6, width: 44, height: 28 }),
    ...ripples,
    s('path', { d: arrow }),
  );
}

function referenceRow(field: Field, { id, error, assumed, help, left }: RowParts): Row {
  /** Kinds that have no box of their own stay as the record told them. */
  let others: readonly string[] = [];
  let order: readonly string[] = [];
  const boxes = (field.choices ?? []).map(([value, text]) => {
    const input = h('input', { type: 'checkbox', value, id: `${id}-${value}`, on: { change: left } });
    return { value, input, label: h('label', { for: input.id, class: 'choice' }, input, text) };
  });
  const control = h(
    'fieldset',
    { class: 'field wide', 'aria-describedby': `${id}-error ${id}-help` },
    h('legend', {}, field.label),
    h('span', { class: 'choices' }, ...boxes.map(({ label }) => label)),
    error,
    assumed,
    help,
  );
  return {
    element: control,
    control,
    read: () => {
      const on = new Set([
        ...others,
        ...boxes.filter(({ input }) => input.checked).map(({ value }) => value),
      ]);
      const first = order.filter((kind) => on.has(kind));
      return [...first, ...[...on].filter((kind) => !first.includes(kind))].join(',');
    },
    write: (text) => {
      order = text.split(',').filter((kind) => kind !== '');
      for (const { value, input } of boxes) input.checked = order.includes(value);
      others = order.filter((kind) => !boxes.some(({ value }) => value === kind));
    },
    error,
    assumed,
  };
}

function select(
  name: string,
  options: readonly (readonly [value: string, text: string])[],
  id: string = newId(name),
): HTMLSelectElement {
  return h('select', { id }, ...options.map(([value, text]) => h('option', { value }, text)));
}

function radios<Value extends string>(
  legend: string,
  options: readonly (readonly [Value, string, string])[],
  now: () => Value,
  chosen: (value: Value) => void,
): { readonly element: HTMLElement; readonly show: () => void } {
  const name = newId('asked');
  const inputs = options.map(([value, text, help]) => {
    const input = h('input', {
      type: 'radio',
      name,
      value,
      id: `${name}-${value}`,
      on: {
        change: () => {
          chosen(value);
        },
      },
    });
    return {
      value,
      input,
      label: h(
        'label',
        { for: input.id, class: 'choice' },
        input,
        h('span', {}, h('b', {}, text), ' ', h('span', { class: 'help' }, help)),
      ),
    };
  });
  const show = () => {
    for (const { value, input } of inputs) input.checked = value === now();
  };
  show();
  return {
    element: h(
      'fieldset',
      { class: 'asked' },
      h('legend', {}, legend),
      h('span', { class: 'choices' }, ...inputs.map(({ label }) => label)),
    ),
    show,
  };
}
