import { spawnSync } from 'node:child_process';
import { cpSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { beforeEach, describe, expect, test } from 'vitest';
import { z } from 'zod';
import { tempFolder } from '../helpers/tempFolder.js';
import { changed, DEMO_RECORD, PHOTO_RECORDS } from './exampleRecords.js';

const REPO = fileURLToPath(new URL('../..', import.meta.url));
const FILE = 'schema/print-record.schema.json';

interface SchemaNode {
  readonly description?: string;
  readonly const?: unknown;
  readonly type?: string;
  readonly properties?: Readonly<Record<string, SchemaNode>>;
  readonly oneOf?: readonly SchemaNode[];
  readonly anyOf?: readonly SchemaNode[];
  readonly items?: SchemaNode;
}

const schema = JSON.parse(readFileSync(join(REPO, FILE), 'utf8')) as SchemaNode & Record<string, unknown>;

describe('the schema file', () => {
  test('is JSON Schema of draft 2020-12 with a title', () => {
    // Source: json-schema.org, the URI that names the draft.
    expect(schema).toMatchObject({
      $schema: 'https://json-schema.org/draft/2020-12/schema',
      title: 'Print record',
      type: 'object',
      additionalProperties: false,
    });
  });

  test('describes every field, numbers with their unit', () => {
    const undescribed: string[] = [];
    const walk = (node: SchemaNode, path: string, inherited: boolean): void => {
      const told = inherited || node.description !== undefined;
      for (const [key, child] of Object.entries(node.properties ?? {})) {
        const at = `${path}.${key}`;
        const text = child.description ?? '';
        const unitMissing =
          /(Mm|^mm|[pP]erS2?|[hH]z)$/.test(key) && child.type === 'number' && !/mm|Hz/.test(text);
        if (text === '' || unitMissing) undescribed.push(at);
        walk(child, at, text !== '');
      }
      [
        ...(node.oneOf ?? []),
        ...(node.anyOf ?? []),
        ...(node.items === undefined ? [] : [node.items]),
      ].forEach((inner) => {
        walk(inner, path, told);
      });
    };
    walk(schema, '', true);
    expect(undescribed).toEqual([]);
  });

  test('accepts and refuses records when it is read back', () => {
    // Zod reads the published file, not the source that it was made from.
    const readBack = z.fromJSONSchema(schema as Parameters<typeof z.fromJSONSchema>[0]);
    for (const record of [DEMO_RECORD, ...PHOTO_RECORDS]) {
      expect(readBack.safeParse(record).error?.issues).toBeUndefined();
    }
    for (const [path, value] of [
      ['speedMmPerS', 6000],
      ['speed', 110],
      ['axis', undefined],
      ['ladder.kind', 'linar'],
      ['face.widthMm', '84'],
    ] as const) {
      expect(readBack.safeParse(changed(DEMO_RECORD, path, value)).success, path).toBe(false);
    }
  });
});

describe('scripts/makeSchema.ts', () => {
  const at = tempFolder('test');
  beforeEach(() => {
    cpSync(join(REPO, 'schema'), at('schema'), { recursive: true });
  });

  const run = (cwd: string, ...args: readonly string[]) =>
    spawnSync(
      process.execPath,
      ['--import', import.meta.resolve('tsx'), join(REPO, 'scripts/makeSchema.ts'), ...args],
      { cwd, encoding: 'utf8' },
    );

  test('the files in the repository are fresh', () => {
    expect(run(REPO, '--check')).toMatchObject({ status: 0, stderr: '' });
  });

  test('a stale file is named in one sentence, and written again', () => {
    const file = at(FILE);
    const fresh = readFileSync(file, 'utf8');
    writeFileSync(file, fresh.replace('1000', '2000'));
    expect(run(at(), '--check')).toMatchObject({
      status: 1,
      stderr: `${FILE} is stale: run npm run schema.\n`,
    });
    rmSync(file);
    expect(run(at(), '--check').status).toBe(1);
    expect(run(at()).status).toBe(0);
    expect(readFileSync(file, 'utf8')).toBe(fresh);
  });
});
