// Tasks that do what no task of ours should: run in threads by test/web/workers.test.ts.

import { exit } from 'node:process';

/** @param {unknown} task */
export const survey = (task) => Promise.resolve({ ok: true, value: task });

export const view = () =>
  Promise.resolve({
    ok: false,
    mistake: { code: 'photo-damaged', message: 'It breaks off.', advice: 'Copy it again.', field: undefined },
  });

/** Never ends, and never lets go of its thread. */
export const measure = () => {
  for (;;) Math.random();
};

export const check = () => exit(3);

export const sheetFile = () => Promise.reject(new TypeError('a slip'));

/** Takes a while. */
export const save = () => {
  const end = Date.now() + 300;
  while (Date.now() < end) Math.random();
  return Promise.resolve({ ok: true, value: 'saved' });
};
