/**
 * What a caller passed in place of what was expected, in words for a `TypeError`.
 * @param value - Any value; of a text only its beginning is told.
 * @returns For example `undefined`, `a string, "tower.jpg"`, `a Blob` or `an array`.
 */
export function received(value: unknown): string {
  if (value === undefined || value === null) return String(value);
  if (typeof value === 'string') {
    return `a string, ${JSON.stringify(value.length > 40 ? `${value.slice(0, 39)}…` : value)}`;
  }
  const kind =
    typeof value === 'object'
      ? Object.prototype.toString.call(value).slice('[object '.length, -1)
      : typeof value;
  const name = kind === 'Object' ? 'object' : kind === 'Array' ? 'array' : kind;
  return `${/^[AEIOaeio]/.test(name) ? 'an' : 'a'} ${name}`;
}
