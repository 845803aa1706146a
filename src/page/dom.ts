type Listeners = Readonly<Record<string, (event: never) => void>>;

/** What an element is made with: attributes, and listeners under `on`. */
export interface Props {
  readonly on?: Listeners;
  readonly [attribute: string]: string | number | boolean | undefined | Listeners;
}

/** What may stand in an element; what is nothing is left out. */
export type Child = Node | string | false | undefined;

/**
 * Makes an element.
 * @param name - Its name.
 * @param props - Its attributes: true stands alone, false and undefined are left out; listeners stand under `on`.
 * @param children - What stands in it; text is text.
 * @returns The element.
 */
export function h<Name extends keyof HTMLElementTagNameMap>(
  name: Name,
  props: Props = {},
  ...children: readonly Child[]
): HTMLElementTagNameMap[Name] {
  const made = document.createElement(name);
  equip(made, props);
  put(made, ...children);
  return made;
}

/**
 * Makes an SVG element.
 * @param name - Its name.
 * @param props - Its attributes, as of `h`.
 * @param children - What stands in it.
 * @returns The element.
 */
export function s<Name extends keyof SVGElementTagNameMap>(
  name: Name,
  props: Props = {},
  ...children: readonly Child[]
): SVGElementTagNameMap[Name] {
  const made = document.createElementNS('http://www.w3.org/2000/svg', name);
  equip(made, props);
  put(made, ...children);
  return made;
}

/**
 * Sets an element's attributes.
 * @param target - The element.
 * @param props - As of `h`; what is false or undefined is taken away.
 */
export function equip(target: Element, { on = {}, ...attributes }: Props): void {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === undefined || value === false || typeof value === 'object') target.removeAttribute(name);
    else target.setAttribute(name, value === true ? '' : String(value));
  }
  for (const [type, listener] of Object.entries(on)) {
    target.addEventListener(type, listener as (event: Event) => void);
  }
}

/**
 * Replaces what stands in an element.
 * @param target - The element.
 * @param children - What stands in it then.
 */
export function put(target: Element, ...children: readonly Child[]): void {
  target.replaceChildren(...children.filter((child) => child !== undefined && child !== false));
}

/**
 * A drawing of ours as an element: parsed as XML, so that nothing in it can be taken for a page.
 * @param svg - What stands in it, SVG text.
 * @param size - Width and height of its units.
 * @param alt - What it shows; undefined for a drawing that the words beside it tell.
 * @returns The drawing.
 */
export function drawing(
  svg: string,
  [width, height]: readonly [width: number, height: number],
  alt?: string,
): SVGSVGElement {
  const text = `<svg xmlns="http://www.w3.org/2000/svg">${svg}</svg>`;
  const parsed = new DOMParser().parseFromString(text, 'image/svg+xml').documentElement;
  const made = document.importNode(parsed, true) as unknown as SVGSVGElement;
  equip(made, {
    viewBox: `0 0 ${width} ${height}`,
    width,
    height,
    ...(alt === undefined ? { 'aria-hidden': 'true' } : { role: 'img', 'aria-label': alt }),
  });
  return made;
}

/**
 * A button.
 * @param text - What it says.
 * @param press - What it does.
 * @param props - More attributes.
 * @returns The button.
 */
export function button(text: string, press: () => void, props: Props = {}): HTMLButtonElement {
  return h('button', { type: 'button', ...props, on: { click: press } }, text);
}

/**
 * How many px of a drawing one CSS px is: drawings grow with the reader's text.
 * @returns 1 at the usual size of text.
 */
export function textScale(): number {
  return parseFloat(getComputedStyle(document.documentElement).fontSize) / 16;
}

let count = 0;

/**
 * An id that no other element has.
 * @param name - What it begins with.
 * @returns The id.
 */
export function newId(name: string): string {
  count += 1;
  return `${name}-${count}`;
}
