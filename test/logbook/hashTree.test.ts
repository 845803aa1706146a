import { createHash } from 'node:crypto';
import { expect, test } from 'vitest';
import { HashTree, leafHash } from '../../src/logbook/hashTree.js';
import { readJson } from '../helpers/readReference.js';

interface Vectors {
  readonly empty: string;
  readonly leaves: readonly string[];
  readonly roots: readonly string[];
}
const vectors = readJson('rfc6962.json') as Vectors;
const leaves = vectors.leaves.map((hex) => Buffer.from(hex, 'hex'));

/** Source: the recursive definition of RFC 6962, section 2.1, written down as it stands there. */
function rootByDefinition(data: readonly Buffer[]): Buffer {
  const sha256 = (...parts: readonly Uint8Array[]) =>
    createHash('sha256').update(Buffer.concat(parts)).digest();
  if (data.length === 0) return sha256();
  if (data.length === 1) return sha256(Uint8Array.of(0), data[0]!);
  let k = 1;
  while (2 * k < data.length) k *= 2;
  return sha256(Uint8Array.of(1), rootByDefinition(data.slice(0, k)), rootByDefinition(data.slice(k)));
}

function treeOf(data: readonly Buffer[]): HashTree {
  const tree = new HashTree();
  for (const one of data) tree.append(leafHash(one));
  return tree;
}

// Source: reference tests of Certificate Transparency, test/reference/rfc6962.json.
test('the published roots come out, also of the definition by itself', () => {
  expect(new HashTree().root()).toBe(vectors.empty);
  for (const [i, root] of vectors.roots.entries()) {
    expect(treeOf(leaves.slice(0, i + 1)).root()).toBe(root);
    expect(rootByDefinition(leaves.slice(0, i + 1)).toString('hex')).toBe(root);
  }
});

test('every size up to 300 has the root of the definition, appended or asked for in advance', () => {
  const data = Array.from({ length: 300 }, (_, i) => Buffer.from(`entry ${i}`));
  const tree = new HashTree();
  for (const [i, one] of data.entries()) {
    const expected = i % 7 === 0 ? rootByDefinition(data.slice(0, i + 1)).toString('hex') : undefined;
    const ahead = tree.rootWith(leafHash(one));
    tree.append(leafHash(one));
    expect(tree.root()).toBe(ahead);
    if (expected !== undefined) expect(ahead).toBe(expected);
  }
  expect(tree.size).toBe(300);
});
