import type { PointPx } from '../core/image.js';
import type { PhotoCheck } from '../reading/checkSchema.js';
import { viewOf, type Photo } from './api.js';
import { CORNER_INDICES, CORNER_NAMES, type CornerIndex, type ToldCorners } from './corners.js';
import { equip, h, put, s } from './dom.js';
import { apart } from './labels.js';

/** What is drawn over a photo. */
export interface StageLook {
  readonly corners: ToldCorners;
  /** Whether they were placed by hand. */
  readonly byHand: boolean;
  readonly references: PhotoCheck['search']['references'];
  /** Faces that it may be, where none is sure. */
  readonly guesses: readonly (readonly PointPx[])[];
  /** The corner that the next tap places. */
  readonly armed: CornerIndex | undefined;
}

/** What the person does on the photo. */
export interface StageActs {
  /** A corner moves; `done` when it is let go. */
  readonly move: (index: CornerIndex, point: PointPx, done: boolean) => void;
  /** A corner is taken away. */
  readonly remove: (index: CornerIndex) => void;
  readonly undo: () => void;
  readonly redo: () => void;
}

/** The photo with everything drawn over it. */
export interface Stage {
  readonly element: HTMLElement;
  readonly show: (look: StageLook) => void;
  /** Larger, smaller, or all of it. */
  readonly zoom: (by: number | 'all') => void;
  readonly focusCorner: (index: CornerIndex) => void;
}

const REFERENCE_NAMES = { 'id1-card': 'card', ruler: 'ruler', 'marker-card': 'marker card' } as const;
/** Width of the picture at first and once somebody looks closely. */
const VIEW_PX = 1400;
const CLOSE_VIEW_PX = 2400;
const MOST_ZOOM = 24;
const WHEEL_STEP = 1.25;
/** A finger that moves less than this has tapped. */
const TAP_PX = 8;
/** Steps of the arrow keys, px of the photo. */
const KEY_STEP_PX = { fine: 0.1, usual: 1, coarse: 10 } as const;
const ARROWS: Readonly<Record<string, PointPx>> = {
  ArrowLeft: [-1, 0],
  ArrowRight: [1, 0],
  ArrowUp: [0, -1],
  ArrowDown: [0, 1],
};
/** The loupe shows this share of the photo's longer side. */
const LOUPE_SHARE = 1 / 32;

interface Pointer {
  readonly at: PointPx;
  readonly from: PointPx;
}

/**
 * A photo with movable corners: by pointer, by tap and by key; it zooms by pinch, wheel and key.
 * @param photo - The photo.
 * @param acts - What becomes of what the person does.
 * @returns The stage.
 */
export function makeStage(photo: Photo, acts: StageActs): Stage {
  const { widthPx, heightPx, id } = photo;
  let look: StageLook = {
    corners: [null, null, null, null],
    byHand: false,
    references: [],
    guesses: [],
    armed: undefined,
  };
  let view = { x: 0, y: 0, width: widthPx };
  const pointers = new Map<number, Pointer>();
  let dragged: { readonly index: CornerIndex; readonly grip: PointPx; moved: boolean } | undefined;
  let pinched = false;
  let magnified: CornerIndex | undefined;

  const picture = s('image', { href: viewOf(id, VIEW_PX), width: widthPx, height: heightPx });
  const overlay = s('g');
  const handles = CORNER_INDICES.map((index) => {
    const handle = s(
      'g',
      {
        class: 'corner',
        tabindex: 0,
        role: 'button',
        'aria-roledescription': 'movable corner',
        on: {
          keydown: (event: KeyboardEvent) => {
            byKey(event, index);
          },
          focus: () => {
            magnify(index);
          },
          blur: () => {
            magnify(undefined);
          },
          pointerdown: (event: PointerEvent) => {
            grab(event, index);
          },
        },
      },
      s('circle', { r: 22, class: 'target' }),
      s('circle', { r: 8, class: 'casing' }),
      s('circle', { r: 8, class: 'ring' }),
      s('path', { d: 'M-3.5 0H3.5M0 -3.5V3.5', class: 'cross' }),
    );
    return handle;
  });
  const svg = s(
    'svg',
    {
      class: 'photo',
      role: 'group',
      'aria-label': 'The photo, with the corners of the face. Each corner can be moved by the arrow keys.',
      on: {
        pointerdown: press,
        pointermove: drag,
        pointerup: release,
        pointercancel: release,
        wheel,
      },
    },
    picture,
    overlay,
    ...handles,
  );
  const loupePicture = s('image', { width: widthPx, height: heightPx });
  const loupeLines = s('g');
  const loupe = s('svg', { class: 'loupe', 'aria-hidden': 'true', hidden: true }, loupePicture, loupeLines);
  const element = h('div', { class: 'stage' }, svg, loupe);
  element.style.setProperty('--ratio', String(widthPx / heightPx));
  new ResizeObserver(draw).observe(svg);
  return { element, show, zoom, focusCorner };

  function show(next: StageLook): void {
    look = next;
    draw();
  }

  function draw(): void {
    const shownHeight = (view.width * heightPx) / widthPx;
    equip(svg, { viewBox: `${view.x} ${view.y} ${view.width} ${shownHeight}` });
    const zoomed = view.width < widthPx;
    svg.classList.toggle('zoomed', zoomed);
    if (zoomed) equip(picture, { href: viewOf(id, CLOSE_VIEW_PX) });
    const unit = unitPx();
    const guesses = look.corners.some((one) => one !== null) ? [] : look.guesses;
    put(
      overlay,
      ...look.references.flatMap(({ outlinePx }) => outline(outlinePx, 'reference')),
      ...guesses.flatMap((corners) => outline(corners, 'guess')),
      ...apart([
        ...look.references.map(({ kind, outlinePx }) => ({
          text: REFERENCE_NAMES[kind],
          ...middleOf(outlinePx),
          sizePx: 13 * unit,
        })),
        ...guesses.map((corners, i) => ({ text: String(i + 1), ...middleOf(corners), sizePx: 18 * unit })),
      ]).map(({ text, x, y, sizePx }) =>
        s('text', { x, y, class: 'name', 'font-size': sizePx, 'text-anchor': 'middle' }, text),
      ),
      ...outline(
        look.corners.filter((one) => one !== null),
        'face',
        look.corners.every((one) => one !== null),
      ),
    );
    handles.forEach((handle, i) => {
      const at = look.corners[i];
      const name = CORNER_NAMES[i] ?? '';
      equip(handle, {
        hidden: at === null,
        display: at === null ? 'none' : undefined,
        transform: at ? `translate(${at[0]} ${at[1]}) scale(${unit})` : undefined,
        'aria-label': at
          ? `${name} corner, ${look.byHand ? 'placed' : 'found'} at ${at[0].toFixed(1)}, ${at[1].toFixed(1)} px`
          : name,
      });
      handle.classList.toggle('armed', look.armed === i);
      handle.classList.toggle('found', !look.byHand);
    });
    svg.classList.toggle('arming', look.armed !== undefined);
    if (!loupe.hasAttribute('hidden') && magnified !== undefined) drawLoupe(magnified);
  }

  /** Px of the photo for one CSS px. */
  function unitPx(): number {
    const scale = svg.getScreenCTM()?.a ?? 0;
    return scale > 0 ? 1 / scale : 1;
  }

  function toPhoto(clientX: number, clientY: number): PointPx {
    const matrix = svg.getScreenCTM();
    if (matrix === null) return [0, 0];
    const { x, y } = new DOMPoint(clientX, clientY).matrixTransform(matrix.inverse());
    return [x, y];
  }

  function inside([x, y]: PointPx): PointPx {
    const tenth = (value: number, most: number) => Math.round(10 * Math.min(most, Math.max(0, value))) / 10;
    return [tenth(x, widthPx), tenth(y, heightPx)];
  }

  function byKey(event: KeyboardEvent, index: CornerIndex): void {
    const at = look.corners[index];
    const way = ARROWS[event.key];
    if (way !== undefined && at) {
      const step =
        event.altKey || event.ctrlKey
          ? KEY_STEP_PX.fine
          : event.shiftKey
            ? KEY_STEP_PX.coarse
            : KEY_STEP_PX.usual;
      event.preventDefault();
      acts.move(index, inside([at[0] + step * way[0], at[1] + step * way[1]]), true);
      return;
    }
    switch (event.key) {
      case 'Delete':
      case 'Backspace':
        acts.remove(index);
        break;
      case '+':
        zoom(WHEEL_STEP, at ?? undefined);
        break;
      case '-':
        zoom(1 / WHEEL_STEP, at ?? undefined);
        break;
      case '0':
        zoom('all');
        break;
      case 'z':
      case 'Z':
        if (!event.ctrlKey && !event.metaKey) return;
        if (event.shiftKey) acts.redo();
        else acts.undo();
        break;
      default:
        return;
    }
    event.preventDefault();
  }

  function grab(event: PointerEvent, index: CornerIndex): void {
    const at = look.corners[index];
    if (!at || pointers.size > 0) return;
    const finger = toPhoto(event.clientX, event.clientY);
    // The corner keeps its place under the finger: it does not jump there.
    dragged = { index, grip: [at[0] - finger[0], at[1] - finger[1]], moved: false };
    svg.setPointerCapture(event.pointerId);
    handles[index]?.focus({ preventScroll: true });
  }

  function press(event: PointerEvent): void {
    const at: PointPx = [event.clientX, event.clientY];
    pointers.set(event.pointerId, { at, from: at });
    if (pointers.size === 2) {
      pinched = true;
      dragged = undefined;
    } else {
      pinched = false;
      svg.setPointerCapture(event.pointerId);
    }
  }

  function drag(event: PointerEvent): void {
    const before = pointers.get(event.pointerId);
    if (before === undefined) return;
    const at: PointPx = [event.clientX, event.clientY];
    const others = [...pointers].filter(([key]) => key !== event.pointerId).map(([, one]) => one.at);
    pointers.set(event.pointerId, { ...before, at });
    const [other] = others;
    if (other !== undefined) {
      const spread = (one: PointPx) => Math.hypot(one[0] - other[0], one[1] - other[1]);
      const by = spread(at) / Math.max(1, spread(before.at));
      const middle = toPhoto((at[0] + other[0]) / 2, (at[1] + other[1]) / 2);
      const was = toPhoto((before.at[0] + other[0]) / 2, (before.at[1] + other[1]) / 2);
      shift(was[0] - middle[0], was[1] - middle[1]);
      zoom(by, middle);
      return;
    }
    if (dragged !== undefined) {
      const finger = toPhoto(...at);
      dragged.moved ||= farFrom(before.from, at);
      if (!dragged.moved) return;
      acts.move(dragged.index, inside([finger[0] + dragged.grip[0], finger[1] + dragged.grip[1]]), false);
      magnify(dragged.index);
      return;
    }
    if (view.width < widthPx) {
      const [was, now] = [toPhoto(...before.at), toPhoto(...at)];
      shift(was[0] - now[0], was[1] - now[1]);
    }
  }

  function release(event: PointerEvent): void {
    const before = pointers.get(event.pointerId);
    pointers.delete(event.pointerId);
    if (before === undefined || event.type === 'pointercancel') {
      dragged = undefined;
      return;
    }
    const tapped = !pinched && !farFrom(before.from, before.at);
    if (dragged !== undefined) {
      const at = look.corners[dragged.index];
      if (dragged.moved && at) acts.move(dragged.index, at, true);
      dragged = undefined;
    } else if (tapped && look.armed !== undefined) {
      const index = look.armed;
      acts.move(index, inside(toPhoto(event.clientX, event.clientY)), true);
      focusCorner(index);
    }
  }

  function farFrom(a: PointPx, b: PointPx): boolean {
    return Math.hypot(a[0] - b[0], a[1] - b[1]) > TAP_PX;
  }

  function wheel(event: WheelEvent): void {
    // A page must still scroll under the pointer: the wheel zooms where the photo has the focus, or with Ctrl as a trackpad's pinch sends it.
    if (!event.ctrlKey && !svg.contains(document.activeElement)) return;
    event.preventDefault();
    zoom(event.deltaY < 0 ? WHEEL_STEP : 1 / WHEEL_STEP, toPhoto(event.clientX, event.clientY));
  }

  function zoom(by: number | 'all', about?: PointPx): void {
    const [x, y] = about ?? [view.x + view.width / 2, view.y + (view.width * heightPx) / widthPx / 2];
    const width = by === 'all' ? widthPx : Math.min(widthPx, Math.max(widthPx / MOST_ZOOM, view.width / by));
    const share = width / view.width;
    view = { x: x - (x - view.x) * share, y: y - (y - view.y) * share, width };
    shift(0, 0);
  }

  function shift(byX: number, byY: number): void {
    const height = (view.width * heightPx) / widthPx;
    view = {
      ...view,
      x: Math.min(widthPx - view.width, Math.max(0, view.x + byX)),
      y: Math.min(heightPx - height, Math.max(0, view.y + byY)),
    };
    draw();
  }

  function focusCorner(index: CornerIndex): void {
    if (look.corners[index] !== null) handles[index]?.focus({ preventScroll: true });
  }
  function magnify(index: CornerIndex | undefined): void {
    magnified = index;
    equip(loupe, { hidden: index === undefined });
    if (index !== undefined) drawLoupe(index);
  }

  function drawLoupe(index: CornerIndex): void {
    const at = look.corners[index];
    if (!at) {
      equip(loupe, { hidden: true });
      return;
    }
    const [x, y] = at;
    const width = Math.max(widthPx, heightPx) * LOUPE_SHARE;
    equip(loupe, { viewBox: `${x - width / 2} ${y - width / 2} ${width} ${width}` });
    if (!loupePicture.hasAttribute('href')) equip(loupePicture, { href: viewOf(id, CLOSE_VIEW_PX) });
    const unit = width / 140;
    put(
      loupeLines,
      ...outline(
        look.corners.filter((one) => one !== null),
        'face',
        look.corners.every((one) => one !== null),
      ),
      s('path', {
        class: 'sight',
        'stroke-width': unit,
        d: `M${x - 16 * unit} ${y}H${x - 4 * unit}M${x + 4 * unit} ${y}H${x + 16 * unit}M${x} ${y - 16 * unit}V${y - 4 * unit}M${x} ${y + 4 * unit}V${y + 16 * unit}`,
      }),
    );
    // Away from the finger: at the other side of the photo.
    const box = svg.getBoundingClientRect();
    const place = new DOMPoint(x, y).matrixTransform(svg.getScreenCTM() ?? new DOMMatrix());
    loupe.classList.toggle('right', place.x < box.left + box.width / 2);
  }
}

/** A line with a casing, so that it is seen on dark and on bright. */
function outline(points: readonly PointPx[], kind: string, closed = true): SVGElement[] {
  if (points.length < 2) return [];
  const d = `M${points.map(([x, y]) => `${x} ${y}`).join('L')}${closed ? 'Z' : ''}`;
  return [s('path', { d, class: 'casing line' }), s('path', { d, class: `${kind} line` })];
}

function middleOf(points: readonly PointPx[]): { readonly x: number; readonly y: number } {
  const mean = (i: 0 | 1) => points.reduce((sum, point) => sum + point[i], 0) / points.length;
  return { x: mean(0), y: mean(1) };
}
