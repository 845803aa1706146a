import { readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import { expect, test } from 'vitest';
import { printedCommands, shellLines } from '../helpers/printedCommands.js';

const root = resolve(import.meta.dirname, '../..');
const guide = readFileSync(resolve(root, 'docs/whole-tuning.md'), 'utf8');
const { runLine, at } = printedCommands();

/** Each shell block with the lines of output that are shown of its last command. */
const steps = [...guide.matchAll(/```sh\n[\s\S]*?```(?:\n\n```text\n([\s\S]*?)```)?/g)].map(
  ([block, shown = '']) => ({
    name: shellLines(block).join(' && '),
    commands: shellLines(block),
    shown: shown.split('\n').filter((line) => line !== ''),
  }),
);

// In the guide's order: a command finds what the ones before it have written.
test.each(steps)('$name', { timeout: 300_000 }, async ({ commands, shown }) => {
  let printed: readonly string[] = [];
  for (const line of commands) printed = (await runLine(line)).split('\n');
  expect(printed.length).toBeGreaterThan(1);
  // What is shown is an excerpt: its lines stand in the output as they are, in their order.
  let from = 0;
  for (const line of shown) {
    expect(printed.slice(from)).toContain(line);
    from = printed.indexOf(line, from) + 1;
  }
});

test('shows every command of a tuning, and no output that belongs to none', () => {
  expect(steps.filter(({ shown }) => shown.length > 0)).toHaveLength(guide.split('```text').length - 1);
  const called = new Set(steps.flatMap(({ commands }) => commands.map((line) => line.split(' ')[1])));
  expect([...called].sort()).toEqual(
    ['after', 'card', 'compare', 'decide', 'job', 'logbook', 'measure', 'plan', 'tower', 'weave'].sort(),
  );
});

test('the records that its photographs were drawn of are those that its plan writes', async () => {
  const [plan] = steps[0]!.commands;
  await runLine(plan!.replace('tower.print.json', 'again.print.json').replace('checklist.pdf', 'again.pdf'));
  for (const axis of ['X', 'Y']) {
    const drawn = readFileSync(resolve(root, `testimages/walk/tower.${axis}.print.json`), 'utf8');
    expect(readFileSync(at(`again.${axis}.print.json`), 'utf8')).toBe(drawn);
  }
});
