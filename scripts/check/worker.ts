/** Child process of benchCheck: gets one job at a time, answers with its outcome. */
import { checkScene, type CheckJob } from './checkScene.js';

process.on('message', (job: CheckJob) => {
  checkScene(job).then(
    (result) => process.send!({ result }),
    (error: unknown) => process.send!({ error: String(error), job }),
  );
});
