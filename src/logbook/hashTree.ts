import { createHash } from 'node:crypto';

/** Put before what is hashed, so that no leaf can be passed off as a node: RFC 6962, section 2.1. */
const LEAF = Uint8Array.of(0);
const NODE = Uint8Array.of(1);

/**
 * Hash of one leaf, SHA-256(0x00 ‖ data).
 * @param data - What the leaf holds.
 * @returns 32 bytes.
 * @see RFC 6962, section 2.1.
 */
export function leafHash(data: Uint8Array): Uint8Array {
  return createHash('sha256').update(LEAF).update(data).digest();
}

function nodeHash(left: Uint8Array, right: Uint8Array): Uint8Array {
  return createHash('sha256').update(NODE).update(left).update(right).digest();
}

/** A hash tree that only grows; it keeps one hash for each bit of its size. */
export class HashTree {
  /** Roots of full subtrees from left to right, with how many leaves each has: the binary digits of the size. */
  readonly #full: { readonly leaves: number; readonly hash: Uint8Array }[] = [];
  #size = 0;

  /**
   * How many leaves it has.
   * @returns Their count.
   */
  get size(): number {
    return this.#size;
  }

  /**
   * Adds a leaf at the end.
   * @param hash - The leaf's hash, from `leafHash`.
   */
  append(hash: Uint8Array): void {
    let last = { leaves: 1, hash };
    for (let before = this.#full.at(-1); before?.leaves === last.leaves; before = this.#full.at(-1)) {
      last = { leaves: 2 * last.leaves, hash: nodeHash(before.hash, last.hash) };
      this.#full.pop();
    }
    this.#full.push(last);
    this.#size += 1;
  }

  /**
   * The root hash of all leaves so far; of none it is SHA-256 of nothing.
   * @returns 64 hexadecimal digits.
   * @see RFC 6962, section 2.1.
   */
  root(): string {
    return rootFrom(this.#full.map(({ hash }) => hash));
  }

  /**
   * The root hash that the tree would have with one more leaf.
   * @param hash - The leaf's hash.
   * @returns 64 hexadecimal digits.
   */
  rootWith(hash: Uint8Array): string {
    return rootFrom([...this.#full.map((full) => full.hash), hash]);
  }
}

/** Folding from the right gives the same root whether or not equal subtrees at the end were put together first. */
function rootFrom(hashes: readonly Uint8Array[]): string {
  const last = hashes.at(-1);
  if (last === undefined) return createHash('sha256').digest('hex');
  const root = hashes.slice(0, -1).reduceRight((right, left) => nodeHash(left, right), last);
  return Buffer.from(root).toString('hex');
}
