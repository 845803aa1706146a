import { fork } from 'node:child_process';
import { availableParallelism } from 'node:os';

/**
 * Gives child processes one job after the other, each as soon as it has answered the last one.
 * @param worker - File of the child: it is sent a job and answers `{ result }` or `{ error }`.
 * @param jobs - Plain data, one for each job.
 * @param tellEvery - How many jobs there are between two words of progress.
 * @returns Results in the order of the jobs.
 * @throws {Error} When a job fails or a child ends.
 */
export async function runInWorkers<Result>(
  worker: string,
  jobs: readonly object[],
  tellEvery: number,
): Promise<readonly Result[]> {
  const results = new Array<Result>(jobs.length);
  let next = 0;
  const work = async (): Promise<void> => {
    const child = fork(worker, { execArgv: ['--import', 'tsx'] });
    try {
      while (next < jobs.length) {
        const index = next;
        next += 1;
        if ((index + 1) % tellEvery === 0) process.stderr.write(`${index + 1} of ${jobs.length}\n`);
        results[index] = await new Promise<Result>((resolve, reject) => {
          const onExit = (code: number | null) => {
            reject(new Error(`A worker ended with ${code} at ${JSON.stringify(jobs[index])}.`));
          };
          child.once('exit', onExit);
          child.once('message', (answer: { result?: Result; error?: string }) => {
            child.off('exit', onExit);
            if (answer.result === undefined) {
              reject(new Error(`${answer.error} at ${JSON.stringify(jobs[index])}`));
            } else resolve(answer.result);
          });
          child.send(jobs[index]!);
        });
      }
    } finally {
      child.kill();
    }
  };
  await Promise.all(Array.from({ length: Math.min(jobs.length, availableParallelism()) }, work));
  return results;
}
