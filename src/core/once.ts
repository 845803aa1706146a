/**
 * Makes a value when it is first asked for, and keeps it.
 * @param make - Makes it.
 * @returns Gives the same value each time; what `make` throws is thrown, and it is asked again.
 */
export function once<T>(make: () => T): () => T {
  let made: { readonly value: T } | undefined;
  return () => (made ??= { value: make() }).value;
}
