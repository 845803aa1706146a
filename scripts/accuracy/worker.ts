/** Child process of benchAccuracy: gets one job at a time, answers with its outcome. */
import { cramerRaoRun, type CramerRaoJob } from './cramerRao.js';
import { measureFusion, type Fusion } from './fusion.js';
import { measureSeed } from './measureCase.js';
import type { FaceKind } from '../../test/synth/population.js';

/** What the parent asks for. */
export type Job =
  | { readonly kind: FaceKind; readonly seed: number }
  | { readonly kind: 'bound'; readonly job: CramerRaoJob }
  | { readonly kind: 'fusion'; readonly fusion: Fusion; readonly seed: number };

process.on('message', (job: Job) => {
  const answer =
    job.kind === 'bound'
      ? Promise.resolve(cramerRaoRun(job.job))
      : job.kind === 'fusion'
        ? measureFusion(job.fusion, job.seed)
        : measureSeed(job.kind, job.seed);
  answer.then(
    (result) => process.send!({ result }),
    (error: unknown) => process.send!({ error: String(error), job }),
  );
});
