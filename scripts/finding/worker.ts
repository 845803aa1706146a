/** Child process of benchFinding: gets one job at a time, answers with its outcome. */
import { searchScene, type SceneJob } from './searchScene.js';

process.on('message', (job: SceneJob) => {
  searchScene(job).then(
    (result) => process.send!({ result }),
    (error: unknown) => process.send!({ error: String(error), job }),
  );
});
