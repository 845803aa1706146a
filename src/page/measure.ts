import { isObject } from '../print/recordProblem.js';
import { faultsOf, measure, Problem, recordOf, session, type JobState, type Session } from './api.js';
import { toldCorners } from './corners.js';
import { LAMP_DESCRIPTION, LAMP_PART_PX, lampPart } from '../report/charts/lamp.js';
import { button, drawing, h, put, type Child, type Props } from './dom.js';
import { FIELDS, inPageWords, needed, toldBy, toldForLook, type FormState } from './fields.js';
import { makeForm } from './form.js';
import { remember, remembered } from './remember.js';
import { makeShot, type Shot } from './shot.js';

// The measuring page: photo, print and reading stand together, and nothing ever starts again.

/** Fields that say where the face is to be looked for: a photo is looked at again when one changes. */
const FOR_FINDING = new Set([
  'faceWidth',
  'faceHeight',
  'layers',
  'layerHeight',
  'leadingCorner',
  'reference',
  'behindFace',
  'before',
]);

let known: Session | undefined;
let shots: readonly Shot[] = [];
let current: Shot | undefined;
let job: AbortController | undefined;
/** How often something was changed that a reading depends on. */
let changes = 0;
/** Fields that cannot be used as they stand. */
let faults: readonly Problem[] = [];
/** Whether what stands in the way of a measurement is told, since one was asked for. */
let isStanding = false;
let looksOver = 0;
/** The photo that a new one was taken for, to go back to it. */
let former: Shot | undefined;

const form = makeForm({
  changed: formChanged,
  load: (file) => void load(file),
  save: () => void saveRecord(),
});
const capture = captureInput('Take a photo', { capture: 'environment' });
const choice = captureInput('Choose photos', { multiple: true });
const chips = h('ul', { class: 'chips' });
const still = h('input', { type: 'checkbox', id: 'camera-still', on: { change: changed } });
const stillRow = h(
  'p',
  { hidden: true },
  h(
    'label',
    { for: 'camera-still', class: 'choice' },
    still,
    'Only the lamp was moved between the photos: neither tower nor camera',
  ),
);
const formerBox = h('p', { class: 'actions', hidden: true });
const unread = h('div', { class: 'unread', role: 'status' });
const shotBox = h('div', { class: 'shot-box' });
const problems = h('div', {
  class: 'problems',
  tabindex: -1,
  role: 'group',
  'aria-label': 'What stands in the way',
  hidden: true,
});
const go = button('Measure', start, { class: 'main go' });
const cancel = button('Cancel', () => job?.abort(), { hidden: true });
const progress = h('p', { class: 'progress', role: 'status' });
const reading = h('section', { id: 'reading', 'aria-label': 'Reading', hidden: true });
const stale = h('p', { class: 'stale', role: 'status', hidden: true });
const invitation = h(
  'div',
  { class: 'invitation' },
  h(
    'p',
    {},
    'One photo of the tower’s face: lamp 60 to 75° to the side, the whole face in the picture, a bank card or ruler held flush beside it.',
  ),
  drawing(lampPart({ left: 0, top: 0 }).svg, [LAMP_PART_PX.width, LAMP_PART_PX.height], LAMP_DESCRIPTION),
  h(
    'p',
    { class: 'help' },
    'Or drop photos anywhere on this page, or paste one. They go to the computer that runs stillband, and nowhere else.',
  ),
);

begin();

function begin(): void {
  const main = document.querySelector('#measure');
  if (main === null) throw new Error('Expected an element #measure on the page');
  put(
    main,
    h(
      'div',
      { class: 'bench' },
      h(
        'section',
        { id: 'photo', 'aria-labelledby': 'photo-title' },
        h('h2', { id: 'photo-title' }, 'Photo'),
        invitation,
        h('p', { class: 'actions' }, ...capture, ...choice),
        unread,
        chips,
        formerBox,
        stillRow,
        shotBox,
      ),
      h(
        'section',
        { id: 'print', 'aria-labelledby': 'print-title' },
        h('h2', { id: 'print-title' }, 'The print'),
        form.element,
        problems,
        h('p', { class: 'actions start' }, go, cancel),
        progress,
      ),
    ),
    stale,
    reading,
  );
  document.addEventListener('dragover', (event) => {
    if (event.dataTransfer?.types.includes('Files') !== true) return;
    event.preventDefault();
    document.body.classList.add('dropping');
  });
  document.addEventListener('dragleave', (event) => {
    if (event.relatedTarget === null) document.body.classList.remove('dropping');
  });
  document.addEventListener('drop', (event) => {
    document.body.classList.remove('dropping');
    const files = event.dataTransfer?.files;
    if (files === undefined || files.length === 0) return;
    event.preventDefault();
    take(files);
  });
  document.addEventListener('paste', (event) => {
    const files = event.clipboardData?.files;
    if (files !== undefined && files.length > 0) take(files);
  });
  void session()
    .then((answer) => {
      known = answer;
      offer();
    })
    .catch(show);
}

function captureInput(text: string, more: Props): readonly HTMLElement[] {
  const input = h('input', {
    type: 'file',
    accept: 'image/*,.heic,.heif',
    class: 'visually-hidden',
    id: `input-${text.split(' ')[0]?.toLowerCase() ?? ''}`,
    ...more,
    on: {
      change: () => {
        const { files } = input;
        if (files !== null) take(files, more['capture'] !== undefined);
        input.value = '';
      },
    },
  });
  return [input, h('label', { for: input.id, class: 'button main' }, text)];
}

/** Records of photos and of the logbook; the device's own come first, since they are the newest here. */
function offer(): void {
  const here = remembered().map((one) => ({ ...one, from: 'told on this device' }));
  const kept = (known?.machines ?? [])
    .map(({ machine = '', ...one }) => ({ ...one, machine }))
    .filter(({ machine, axis }) => !here.some((one) => one.machine === machine && one.axis === axis))
    .map((one) => ({ ...one, from: 'from the logbook' }));
  form.offer(known?.assumed ?? {}, [...here, ...kept]);
}

function take(files: Iterable<File>, isAnother = false): void {
  put(unread);
  const json = [...files].filter((file) => file.name.toLowerCase().endsWith('.json'));
  for (const file of json) void load(file);
  for (const file of files) {
    if (json.includes(file)) continue;
    const most = known?.limits.bytes ?? Infinity;
    if (file.size > most) {
      show(
        new Problem({
          code: 'photo-too-large',
          message: `${file.name} has ${Math.ceil(file.size / 1e6)} MB, more than the ${Math.floor(most / 1e6)} MB that are taken.`,
          advice: 'Take a photo of fewer px, or export it as JPEG.',
        }),
      );
      continue;
    }
    add(file, isAnother);
  }
}

/** A photo that will not do is what another is taken for: it makes room, and can be had back. */
function add(file: File, isAnother: boolean): void {
  const [only, ...others] = shots;
  if (isAnother && only?.isBad() === true && others.length === 0) {
    former?.drop();
    former = only;
    shots = [];
  }
  const shot: Shot = makeShot(file, {
    told: () => toldForLook(form.state(), form.base()),
    arrived: ({ card }) => {
      if (card?.state === 'read' && form.base() === undefined && Object.keys(card.record).length > 0) {
        form.fill(card.record, 'the card in the photo');
        void lookOver();
      }
      changed();
    },
    moved: changed,
    removed: () => {
      shot.drop();
      shots = shots.filter((one) => one !== shot);
      if (current === shot) choose(shots.at(-1));
      drawShots();
      changed();
    },
    unreadable: (problem) => {
      const isShown = shots.length > 1;
      shots = shots.filter((one) => one !== shot);
      if (current === shot) choose(shots.at(-1));
      drawShots();
      changed();
      put(
        unread,
        h('p', { class: 'look-verdict error' }, h('b', {}, problem.message)),
        h('p', {}, inPageWords(problem.advice)),
        isShown && h('p', { class: 'help' }, 'The other photos stay as they are.'),
      );
    },
    chosen: () => {
      choose(shot);
    },
    checked: () => undefined,
    focusField: form.focusField,
  });
  shots = [...shots, shot];
  choose(shot);
  drawShots();
}

function choose(shot: Shot | undefined): void {
  current = shot;
  put(shotBox, shot?.element);
  drawShots();
}

function drawShots(): void {
  put(chips, ...shots.map(({ chip }) => chip));
  for (const shot of shots) {
    shot.chip.querySelector('.chip')?.setAttribute('aria-pressed', String(shot === current));
  }
  formerBox.hidden = former === undefined || shots.length > 1;
  put(formerBox, former !== undefined && button('Use the photo before', useFormer));
  invitation.hidden = shots.length > 0;
  stillRow.hidden = shots.length < 2;
}

function useFormer(): void {
  const [only] = shots;
  if (former === undefined) return;
  shots = [former];
  former = only;
  choose(shots[0]);
  changed();
}

function formChanged(name: string): void {
  if (FOR_FINDING.has(name)) for (const shot of shots) shot.look();
  faults = faults.filter((one) => fieldOf(one) !== name);
  void lookOver();
  changed();
}

/** Has what is told looked over, and says of each field what is wrong with it. */
async function lookOver(): Promise<void> {
  looksOver += 1;
  const mine = looksOver;
  try {
    const { asked } = form.state();
    const told = toldBy(form.state(), form.base());
    const found = await faultsOf({ ...told, ...(asked === 'spacing' ? { spacingOnly: true } : {}) });
    // An answer to what stands there no longer is none.
    if (mine !== looksOver) return;
    faults = found;
    showStanding();
  } catch (error) {
    // The measurement will tell that there is no answer.
    if (!(error instanceof Problem)) throw error;
  }
}

/** What is shown below is of before. */
function changed(): void {
  changes += 1;
  if (isStanding) showStanding();
  if (!reading.hidden) showStale();
}

function showStale(): void {
  stale.hidden = false;
  put(stale, 'Something was changed since this reading. ', button('Measure again', start));
}

async function load(file: File): Promise<void> {
  try {
    const record: unknown = JSON.parse(await file.text());
    if (!isObject(record)) throw new SyntaxError('no object');
    form.fill(record, file.name);
    formChanged('before');
  } catch (error) {
    if (!(error instanceof SyntaxError)) throw error;
    show(
      new Problem({
        code: 'record-not-json',
        message: `${file.name} is not a print record.`,
        advice: 'Load a file that ends in .print.json, as this page saves it.',
      }),
    );
  }
}

async function saveRecord(): Promise<void> {
  hideProblems();
  try {
    const { asked } = form.state();
    const record = await recordOf({
      ...toldBy(form.state(), form.base()),
      ...(asked === 'spacing' ? { spacingOnly: true } : {}),
    });
    const blob = new Blob([`${JSON.stringify(record, null, 2)}\n`], { type: 'application/json' });
    const address = URL.createObjectURL(blob);
    const name = typeof record['machine'] === 'string' ? record['machine'] : 'tower';
    const link = h('a', {
      href: address,
      download: `${name.replaceAll(/[^\p{L}\p{N}]+/gu, '-')}-${String(record['axis'])}.print.json`,
    });
    link.click();
    URL.revokeObjectURL(address);
  } catch (error) {
    await tellFaults(error);
  }
}

function start(): void {
  if (job !== undefined) return;
  hideProblems();
  const state = form.state();
  const held = shots.flatMap((shot) => {
    const photo = shot.photo();
    return photo === undefined ? [] : [{ photo, corners: toldCorners(shot.corners()) }];
  });
  if (held.length === 0 || missingIn(state).length > 0) {
    tellStanding();
    return;
  }
  const order = {
    photos: held.map(({ photo }) => photo.id),
    ...toldBy(state, form.base()),
    cornersOf: Object.fromEntries(
      held.flatMap(({ photo, corners }) => (corners === null ? [] : [[photo.id, corners] as const])),
    ),
    ...(state.asked === 'spacing' ? { spacingOnly: true } : {}),
    ...(state.asked === 'spacing' && state.was !== '' ? { was: state.was } : {}),
    ...(held.length > 1 && still.checked ? { cameraStill: true } : {}),
  };
  job = new AbortController();
  void run(order, job.signal);
}

async function run(order: Parameters<typeof measure>[0], signal: AbortSignal): Promise<void> {
  go.disabled = true;
  cancel.hidden = false;
  put(progress, 'Measuring…');
  delete progress.dataset['state'];
  const began = Date.now();
  const before = changes;
  const tick = setInterval(() => {
    const seconds = Math.round((Date.now() - began) / 1000);
    if (seconds >= 5 && (progress.dataset['state'] ?? 'running') === 'running')
      put(progress, `Measuring… ${seconds} s`);
  }, 1000);
  try {
    const { id, result } = await measure(order, showState, signal);
    const { readingPart } = await import('./reading.js');
    put(reading, readingPart({ id, result, logbook: known?.logbook ?? false }));
    reading.hidden = false;
    stale.hidden = true;
    // What was asked is answered, but it is no longer what stands above.
    if (changes !== before) showStale();
    put(progress);
    const heading = reading.querySelector<HTMLElement>('#verdict');
    heading?.focus({ preventScroll: true });
    reading.scrollIntoView({ block: 'start' });
    const first = result.reading.schema === 'stillband/reading@1' ? result.reading : undefined;
    if (first !== undefined) {
      remember(first.printRecord);
      offer();
    }
  } catch (error) {
    put(progress);
    if (error instanceof Problem && error.code === 'cancelled') put(progress, 'Cancelled. All is as it was.');
    else await tellFaults(error);
  } finally {
    clearInterval(tick);
    job = undefined;
    go.disabled = false;
    cancel.hidden = true;
  }
}

function showState(state: JobState): void {
  progress.dataset['state'] = state.state;
  put(progress, stateWords(state));
}

function stateWords(state: JobState): string {
  switch (state.state) {
    case 'queued':
      return `Waiting: ${state.position} before this one.`;
    case 'running':
      return 'Measuring…';
    case 'unheard':
      return 'stillband does not answer at the moment; trying again…';
  }
}

/** What stands in the way, at its fields; as a list too once a measurement was asked for, for as long as any is left. */
function showStanding(): void {
  const state = form.state();
  const missing = isStanding ? missingIn(state) : [];
  form.mark(
    new Map(faults.flatMap((one) => [[fieldOf(one) ?? '', inPageWords(one.message)] as const])),
    missing,
  );
  if (!isStanding) return;
  const noPhoto = shots.every((shot) => shot.photo() === undefined);
  const count = missing.length + (noPhoto ? 1 : 0);
  isStanding = count + faults.length > 0;
  problems.hidden = !isStanding;
  const line = (...children: readonly Child[]) => h('li', {}, ...children);
  put(
    problems,
    faults.length > 0 &&
      h(
        'p',
        {},
        h('b', {}, faults.length === 1 ? 'One value cannot be.' : `${faults.length} values cannot be.`),
      ),
    faults.length > 0 && h('ul', {}, ...faults.map((one) => line(...faultWords(one)))),
    count > 0 &&
      h('p', {}, h('b', {}, count === 1 ? 'One thing is missing.' : `${count} things are missing.`)),
    count > 0 &&
      h(
        'ul',
        {},
        noPhoto && line(h('a', { href: '#photo', on: { click: toPhoto } }, 'A photo of the tower’s face')),
        ...missing.map((name) => line(fieldLink(name, FIELDS.get(name)?.label ?? name))),
      ),
  );
}

function faultWords(fault: Problem): readonly Child[] {
  const name = fieldOf(fault);
  const said = `${inPageWords(fault.message)} ${inPageWords(fault.advice)} `;
  return [said, name !== undefined && fieldLink(name, `Go to “${FIELDS.get(name)?.label ?? name}”`)];
}

function missingIn(state: FormState): readonly string[] {
  return needed(state).filter((name) => (state.texts[name] ?? '').trim() === '');
}

function fieldOf({ field }: Problem): string | undefined {
  return field === undefined ? undefined : form.fieldAt(field);
}

function tellStanding(): void {
  isStanding = true;
  showStanding();
  problems.focus();
}

function toPhoto(event: MouseEvent): void {
  event.preventDefault();
  document.querySelector<HTMLElement>('#input-choose')?.focus();
}

function fieldLink(name: string, text: string): HTMLElement {
  return h(
    'a',
    {
      href: '#print',
      on: {
        click: (event: MouseEvent) => {
          event.preventDefault();
          form.focusField(name);
        },
      },
    },
    text,
  );
}

/** A mistake in one field is told with those in all others. */
async function tellFaults(error: unknown): Promise<void> {
  if (error instanceof Problem && error.field !== undefined) await lookOver();
  if (faults.length > 0) tellStanding();
  else show(error);
}

function show(error: unknown): void {
  if (!(error instanceof Problem)) throw error;
  const name = fieldOf(error);
  const message = inPageWords(error.message);
  if (name !== undefined) form.mark(new Map([[name, message]]));
  put(
    problems,
    h('p', {}, h('b', {}, message)),
    h('p', {}, inPageWords(error.advice)),
    name !== undefined && h('p', {}, fieldLink(name, `Go to “${FIELDS.get(name)?.label ?? name}”`)),
  );
  problems.hidden = false;
  problems.focus();
}

function hideProblems(): void {
  isStanding = false;
  problems.hidden = true;
  showStanding();
}
