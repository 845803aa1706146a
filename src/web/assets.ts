import { createHash } from 'node:crypto';
import { readdirSync, readFileSync } from 'node:fs';
import { extname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { inkStyle } from '../index.js';

/** A file of the page. */
export interface Asset {
  readonly type: string;
  readonly data: Uint8Array;
  /** Changes with the data. */
  readonly etag: string;
}

/** The page's files by name: what is not in here is not given out, whatever is asked for. */
export type Assets = ReadonlyMap<string, Asset>;

const TYPES: Readonly<Record<string, string>> = {
  '.js': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.svg': 'image/svg+xml',
};

/** Where `npm run build` puts them. */
const BUILT = fileURLToPath(new URL('../page/', import.meta.url));

/**
 * Reads the page's files into memory; the colours of our charts are put before its style.
 * @param folder - Where they lie. @default beside this file, as built
 * @returns The files.
 */
export function readAssets(folder: string = BUILT): Assets {
  const files = readdirSync(folder).filter((name) => extname(name) in TYPES);
  return new Map(
    files.map((name) => {
      const data = readFileSync(join(folder, name));
      return [
        name,
        assetOf(name, name === 'style.css' ? Buffer.from(`${inkStyle()}\n${data.toString()}`) : data),
      ];
    }),
  );
}

function assetOf(name: string, data: Uint8Array): Asset {
  const hash = createHash('sha256').update(data).digest('base64url').slice(0, 22);
  return { type: TYPES[extname(name)] ?? '', data, etag: `"${hash}"` };
}
