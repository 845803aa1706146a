import type { Reporter, TestModule } from 'vitest/node';

/** How many tests ended how. */
export interface TestCounts {
  readonly passed: number;
  readonly failed: number;
  /** Skipped, marked todo, or never reached. */
  readonly skipped: number;
}

/**
 * Closes a run with one line that a script can read, and fails the run when a test was left out: a skipped
 * test proves nothing.
 */
export default class CountReporter implements Reporter {
  onTestRunEnd(modules: readonly TestModule[]): void {
    const counts = countTests(modules);
    process.stdout.write(`${countLine(counts)}\n`);
    if (counts.skipped > 0) {
      process.stderr.write('A skipped test fails the run. Make it run, or delete it.\n');
      process.exitCode = 1;
    }
  }
}

/**
 * Counts the tests of a run. A test that is neither passed nor failed counts as skipped, and a file that
 * could not be loaded as one failed test.
 * @param modules - The test files that ran.
 * @returns The counts.
 */
export function countTests(modules: readonly Pick<TestModule, 'children' | 'errors'>[]): TestCounts {
  let [passed, failed, skipped] = [0, 0, 0];
  for (const module of modules) {
    if (module.errors().length > 0) failed += 1;
    for (const test of module.children.allTests()) {
      const { state } = test.result();
      if (state === 'passed') passed += 1;
      else if (state === 'failed') failed += 1;
      else skipped += 1;
    }
  }
  return { passed, failed, skipped };
}

/**
 * The closing line.
 * @param counts - How many tests ended how.
 * @returns The line without its end, like `41 passed, 0 failed, 0 skipped`.
 */
export function countLine({ passed, failed, skipped }: TestCounts): string {
  return `${passed} passed, ${failed} failed, ${skipped} skipped`;
}
