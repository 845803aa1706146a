/**
 * Writes the JSON Schemas of the files that stillband reads, from the same source as its own checks.
 * `tsx scripts/makeSchema.ts` writes them below the current folder, which is the repository's; with
 * `--check` it only says whether a file is stale (exit code 1).
 */
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { format, resolveConfig } from 'prettier';
import { z } from 'zod';
import { entrySchema } from '../src/logbook/entry.js';
import { printRecordSchema } from '../src/print/record.js';
import { photoCheckSchema } from '../src/reading/checkSchema.js';
import { jointReadingSchema } from '../src/reading/jointSchema.js';
import { readingSchema } from '../src/reading/schema.js';

const SCHEMAS: readonly { readonly file: string; readonly schema: z.ZodType }[] = [
  { file: 'schema/print-record.schema.json', schema: printRecordSchema },
  { file: 'schema/reading.schema.json', schema: readingSchema },
  { file: 'schema/photo-check.schema.json', schema: photoCheckSchema },
  { file: 'schema/joint-reading.schema.json', schema: jointReadingSchema },
  { file: 'schema/entry.schema.json', schema: entrySchema },
];

const style = await resolveConfig(fileURLToPath(import.meta.url));
for (const { file, schema } of SCHEMAS) {
  const json = JSON.stringify(z.toJSONSchema(schema, { target: 'draft-2020-12' }));
  const wanted = await format(json, { ...style, parser: 'json' });
  if (!process.argv.includes('--check')) {
    writeFileSync(file, wanted);
  } else if (!existsSync(file) || readFileSync(file, 'utf8') !== wanted) {
    console.error(`${file} is stale: run npm run schema.`);
    process.exitCode = 1;
  }
}
