/**
 * Writes the job file of the README's examples, a short tower of our own: npx tsx scripts/makeExampleJob.ts
 * A test says when it is stale.
 */
import { writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { writeJob } from '../test/synth/job.js';

writeFileSync(
  fileURLToPath(new URL('../examples/short-tower.job', import.meta.url)),
  writeJob({ layers: 60, innerWalls: 0 }).text,
);
