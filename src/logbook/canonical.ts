import serialize from 'canonicalize';

/**
 * JSON in the one form that equal data always has, so that it can be hashed.
 * @param value - Plain data.
 * @returns Its text, in UTF-8 the canonical bytes.
 * @throws {TypeError} When the data holds what JSON cannot: NaN, an infinite number, half a character, a circle, nothing.
 * @see RFC 8785, JSON Canonicalization Scheme.
 */
export function canonicalJson(value: unknown): string {
  let text: string | undefined;
  try {
    text = serialize(value);
  } catch (error) {
    throw new TypeError(`Expected plain data but received some that JSON cannot hold: ${String(error)}`);
  }
  if (text === undefined) throw new TypeError('Expected plain data but received none');
  return text;
}

/**
 * What a text of JSON says.
 * @param text - The text.
 * @returns Its data, or undefined when it is no JSON.
 */
export function jsonOf(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}
