/** A word over a photo, px of the photo; it stands in the middle of its place. */
export interface Label {
  readonly text: string;
  readonly x: number;
  readonly y: number;
  readonly sizePx: number;
}

/** Width of a letter at most, as a share of the text's size. */
const LETTER = 0.65;
/** From line to line. */
const LINE = 1.3;

/**
 * Words that would cover one another are moved down, the later below the earlier ones.
 * @param labels - The words, those that keep their places first.
 * @returns The same, none covering another.
 */
export function apart(labels: readonly Label[]): readonly Label[] {
  const placed: Label[] = [];
  for (const label of labels) {
    let { y } = label;
    for (;;) {
      const other = placed.find((one) => covers(one, { ...label, y }));
      if (other === undefined) break;
      y = other.y + (LINE / 2) * (other.sizePx + label.sizePx);
    }
    placed.push({ ...label, y });
  }
  return placed;
}

function covers(a: Label, b: Label): boolean {
  const wide = (LETTER / 2) * (a.text.length * a.sizePx + b.text.length * b.sizePx);
  const high = (LINE / 2) * (a.sizePx + b.sizePx);
  return Math.abs(a.x - b.x) < wide && Math.abs(a.y - b.y) < high - 1e-9;
}
