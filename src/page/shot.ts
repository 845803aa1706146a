import { check, forgetPhoto, Problem, sendPhoto, viewOf, type CheckResult, type Photo } from './api.js';
import {
  answered,
  CORNER_INDICES,
  CORNER_NAMES,
  drawnCorners,
  onTo,
  placed,
  redone,
  toldCorners,
  undone,
  UNSEEN,
  type CornerIndex,
  type Corners,
  type History,
} from './corners.js';
import { button, equip, h, newId, put, type Props } from './dom.js';
import { inPageWords, type Told } from './fields.js';
import { makeStage, type Stage } from './stage.js';

/** One photo on the page, from its file to the corners of its face. It keeps its place and never starts again. */
export interface Shot {
  /** A small picture of it with its name, to choose it by. */
  readonly chip: HTMLElement;
  /** The photo with everything drawn over it. */
  readonly element: HTMLElement;
  /** Undefined while it is on its way. */
  readonly photo: () => Photo | undefined;
  readonly corners: () => Corners;
  /** Whether the check says that it will not do as it is. */
  readonly isBad: () => boolean;
  /** Looks for the face again, with what is told now; not where the corners were placed by hand. */
  readonly look: () => void;
  /** Takes it from the page and the server. */
  readonly drop: () => void;
}

/** What a photo tells the page. */
export interface ShotActs {
  /** What the form tells. */
  readonly told: () => Told;
  readonly arrived: (photo: Photo) => void;
  /** The corners are others than before. */
  readonly moved: () => void;
  readonly removed: () => void;
  readonly chosen: () => void;
  /** The server can make nothing of the file. */
  readonly unreadable: (problem: Problem) => void;
  /** What the check says. */
  readonly checked: (result: CheckResult) => void;
  readonly focusField: (name: string) => void;
}

/** Codes of what has nothing to do with the file itself. */
const PASSING = new Set([
  'no-answer',
  'busy',
  'cancelled',
  'internal',
  'too-slow',
  'timed-out',
  'key-needed',
]);

/**
 * A photo on its way from a file to corners.
 * @param file - The photo.
 * @param acts - What becomes of it.
 * @returns The photo's parts of the page.
 */
export function makeShot(file: File, acts: ShotActs): Shot {
  let photo: Photo | undefined;
  let stage: Stage | undefined;
  let last: CheckResult | undefined;
  let armed: CornerIndex | undefined;
  let history: History<Corners> = { past: [], now: UNSEEN, future: [] };
  /** Corners before a drag, so that one drag is one step to undo. */
  let beforeDrag: Corners | undefined;
  const upload = new AbortController();
  let looking: AbortController | undefined;

  const hint = h('div', { class: 'look', role: 'status' });
  const stageBox = h('div', { class: 'stage-box' });
  const tools = h('div', { class: 'tools', role: 'group', 'aria-label': 'Corners of the face' });
  const numbers = h('details', { class: 'corner-numbers', hidden: true });
  const element = h('div', { class: 'shot' }, hint, stageBox, tools, numbers);
  const chipPicture = h('span', { class: 'chip-picture' });
  const chipNote = h('span', { class: 'chip-note' });
  const choose = h(
    'button',
    { type: 'button', class: 'chip', on: { click: acts.chosen } },
    chipPicture,
    h('span', { class: 'chip-name' }, file.name),
    chipNote,
  );
  const chip = h(
    'li',
    {},
    choose,
    button('Remove', acts.removed, { class: 'quiet', 'aria-label': `Remove ${file.name}` }),
  );
  void send();
  return {
    chip,
    element,
    photo: () => photo,
    corners: () => history.now,
    isBad: () => looking === undefined && last?.check.verdict.state === 'will-not-do',
    look,
    drop: () => {
      upload.abort();
      looking?.abort();
      if (photo !== undefined) forgetPhoto(photo.id);
    },
  };

  async function send(): Promise<void> {
    const bar = h('progress', { max: 1, value: 0, 'aria-label': `Sending ${file.name}` });
    const cancel = button('Cancel', acts.removed);
    put(hint, h('p', {}, 'Sending the photo…'), bar, cancel);
    try {
      photo = await sendPhoto(
        file,
        (share) => {
          bar.value = share;
          put(chipNote, `${Math.round(100 * share)} %`);
        },
        upload.signal,
      );
    } catch (error) {
      if (!(error instanceof Problem)) throw error;
      if (!PASSING.has(error.code)) {
        acts.unreadable(error);
        return;
      }
      put(chipNote, 'not sent');
      tell(error);
      return;
    }
    if (upload.signal.aborted) {
      forgetPhoto(photo.id);
      return;
    }
    put(chipNote);
    put(chipPicture, h('img', { src: viewOf(photo.id, 160), alt: '' }));
    stage = makeStage(photo, {
      move,
      remove: (index) => {
        step(placed(history.now, index, null));
      },
      undo: () => {
        travel(undone);
      },
      redo: () => {
        travel(redone);
      },
    });
    put(stageBox, stage.element);
    draw();
    acts.arrived(photo);
    look();
  }

  function look(): void {
    const { now } = history;
    if (photo === undefined) return;
    if (now.placement.by === 'hand' && drawnCorners(now).every((one) => one !== null)) {
      draw();
      return;
    }
    looking?.abort();
    looking = new AbortController();
    void search(photo, now, looking);
  }

  async function search(held: Photo, asked: Corners, mine: AbortController): Promise<void> {
    put(hint, h('p', { class: 'busy' }, 'Looking for the face…'));
    const corners = toldCorners(asked);
    try {
      const result = await check(
        {
          photos: [held.id],
          ...acts.told(),
          ...(corners === null ? {} : { cornersOf: { [held.id]: corners } }),
        },
        mine.signal,
      );
      if (mine !== looking) return;
      looking = undefined;
      last = result;
      // Corners that were moved meanwhile stay as they are.
      if (history.now === asked) {
        const next = answered(asked, result.corners);
        history = corners === null ? { past: [], now: next, future: [] } : onTo(history, next);
      }
      tellCheck(result);
      acts.checked(result);
    } catch (error) {
      if (!(error instanceof Problem)) throw error;
      if (mine !== looking || error.code === 'cancelled') return;
      looking = undefined;
      tell(error);
    }
    draw();
    acts.moved();
  }

  /** One hint at a time: what would help most. */
  function tellCheck({ check: found, text }: CheckResult): void {
    const [verdict = ''] = text.split('\n');
    const advice = found.hint === undefined ? undefined : inPageWords(found.hint);
    const sizeAsked = found.verdict.state === 'doubtful' && found.face === undefined && !found.printTold;
    put(
      hint,
      h('p', { class: `look-verdict ${found.verdict.state}` }, h('b', {}, `${verdict}.`)),
      advice !== undefined && h('p', {}, advice),
      sizeAsked &&
        button('Tell the size of the face', () => {
          acts.focusField('faceWidth');
        }),
    );
  }

  function tell(problem: Problem): void {
    put(
      hint,
      h('p', { class: 'look-verdict error' }, h('b', {}, inPageWords(problem.message))),
      h('p', {}, inPageWords(problem.advice)),
    );
  }

  function move(index: CornerIndex, point: readonly [number, number], done: boolean): void {
    beforeDrag ??= history.now;
    const now = placed(history.now, index, point);
    if (done) {
      history = onTo({ ...history, now: beforeDrag }, now);
      beforeDrag = undefined;
      armed = armed === undefined ? undefined : nextMissing(now);
      acts.moved();
    } else {
      history = { ...history, now };
    }
    draw(done);
  }

  function nextMissing(now: Corners): CornerIndex | undefined {
    const at = drawnCorners(now);
    return CORNER_INDICES.find((i) => at[i] === null);
  }

  function step(now: Corners): void {
    history = onTo(history, now);
    acts.moved();
    draw();
  }

  function travel(way: (history: History<Corners>) => History<Corners>): void {
    history = way(history);
    acts.moved();
    draw();
  }

  function draw(withTools = true): void {
    if (stage === undefined) return;
    const { now } = history;
    const byHand = now.placement.by === 'hand';
    stage.show({
      corners: drawnCorners(now),
      byHand,
      references: last?.check.search.references ?? [],
      guesses: last?.check.search.guesses.map(({ cornersPx }) => cornersPx) ?? [],
      armed,
    });
    if (withTools) drawTools();
  }

  function drawTools(): void {
    const { now } = history;
    const at = drawnCorners(now);
    const missing = at.filter((one) => one === null).length;
    const byHand = now.placement.by === 'hand';
    const focused =
      document.activeElement instanceof HTMLElement ? document.activeElement.dataset['tool'] : undefined;
    const guesses = missing === 4 ? (last?.check.search.guesses ?? []) : [];
    put(
      tools,
      h('p', { class: 'help' }, statusWords(now, missing)),
      h(
        'p',
        { class: 'actions' },
        ...CORNER_INDICES.map((index) =>
          tool(
            at[index] === null ? `Place ${CORNER_NAMES[index]}` : capital(CORNER_NAMES[index]),
            `corner-${index}`,
            () => {
              arm(index);
            },
            { 'aria-pressed': String(armed === index), class: at[index] === null ? '' : 'placed' },
          ),
        ),
      ),
      h(
        'p',
        { class: 'actions' },
        ...guesses.map(({ cornersPx }, i) =>
          tool(`Take outline ${i + 1}`, `guess-${i}`, () => {
            step({ ...now, placement: { by: 'hand', at: cornersPx } });
          }),
        ),
        missing > 0 && missing < 4 && tool('Find the others', 'others', look),
        tool(
          'Undo',
          'undo',
          () => {
            travel(undone);
          },
          { disabled: history.past.length === 0 },
        ),
        tool(
          'Redo',
          'redo',
          () => {
            travel(redone);
          },
          { disabled: history.future.length === 0 },
        ),
        byHand &&
          now.found !== null &&
          tool('Use what was found', 'found', () => {
            step({ ...now, placement: { by: 'search' } });
          }),
        byHand &&
          now.found === null &&
          missing < 4 &&
          tool('Take all corners away', 'away', () => {
            step({ ...now, placement: { by: 'search' } });
          }),
        tool('Larger', 'larger', () => stage?.zoom(1.6)),
        tool('Smaller', 'smaller', () => stage?.zoom(1 / 1.6)),
        tool('Whole photo', 'whole', () => stage?.zoom('all')),
      ),
    );
    if (focused !== undefined) tools.querySelector<HTMLElement>(`[data-tool="${focused}"]`)?.focus();
    drawNumbers();
  }

  function tool(text: string, name: string, press: () => void, props: Props = {}): HTMLButtonElement {
    return button(text, press, { 'data-tool': name, ...props });
  }

  function arm(index: CornerIndex): void {
    const isThere = drawnCorners(history.now)[index] !== null;
    armed = armed === index ? undefined : index;
    draw();
    if (isThere && armed !== undefined) stage?.focusCorner(index);
  }

  function statusWords(now: Corners, missing: number): string {
    if (armed !== undefined) {
      return `Tap the ${CORNER_NAMES[armed]} corner of the face, as the tower stood when it was printed.`;
    }
    if (looking !== undefined && missing === 4) return 'The face is being looked for.';
    if (missing === 4) return 'No face is marked. Choose a corner, then tap its place in the photo.';
    if (missing > 0) return `${4 - missing} of 4 corners are placed: place the others, or have them found.`;
    switch (now.placement.by) {
      case 'search':
        return 'The corners were found by themselves. Drag one where it is off, or choose it and use the arrow keys (with Alt 0.1 px, with Shift 10 px).';
      case 'hints':
        return 'The corners were found with the help of those you placed.';
      case 'hand':
        return 'The corners are taken exactly as they are drawn.';
    }
  }

  /** For those who cannot see the photo, or know the numbers. */
  function drawNumbers(): void {
    const at = drawnCorners(history.now);
    numbers.hidden = false;
    if (numbers.contains(document.activeElement)) return;
    put(
      numbers,
      h('summary', {}, 'Corners as numbers'),
      h(
        'div',
        { class: 'grid' },
        ...CORNER_INDICES.map((index) => {
          const id = newId('corner');
          const field = h('input', {
            id,
            inputmode: 'decimal',
            placeholder: 'x, y',
            on: {
              change: () => {
                const point = readPoint(field.value);
                equip(field, { 'aria-invalid': point === undefined ? 'true' : undefined });
                if (point !== undefined) step(placed(history.now, index, point));
              },
            },
          });
          field.value = at[index] === null ? '' : at[index].map((px) => px.toFixed(1)).join(', ');
          return h(
            'p',
            { class: 'field' },
            h('label', { for: id }, `${CORNER_NAMES[index]} `, h('span', { class: 'unit' }, 'px')),
            field,
          );
        }),
      ),
    );
  }

  /** Undefined where the text cannot be read; null where it is empty. */
  function readPoint(text: string): readonly [number, number] | null | undefined {
    if (text.trim() === '') return null;
    const [x, y, ...rest] = text.split(/[\s,;]+/).filter((part) => part !== '');
    const [across, down] = [Number(x), Number(y)];
    const inside =
      photo !== undefined && across >= 0 && down >= 0 && across <= photo.widthPx && down <= photo.heightPx;
    return y === undefined || rest.length > 0 || !inside ? undefined : [across, down];
  }
}

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
