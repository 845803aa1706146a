/** Child process of benchPlan: gets one job at a time, answers with its outcome. */
import { measurePlan } from './measurePlan.js';

process.on('message', ({ seed }: { readonly seed: number }) => {
  measurePlan(seed).then(
    (result) => process.send!({ result }),
    (error: unknown) => process.send!({ error: String(error) }),
  );
});
