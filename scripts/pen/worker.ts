/** Child process of benchPen: gets one job at a time, answers with its outcome. */
import { findLines, type PenJob } from './findLines.js';

process.on('message', (job: PenJob) => {
  findLines(job).then(
    (result) => process.send!({ result }),
    (error: unknown) => process.send!({ error: String(error), job }),
  );
});
