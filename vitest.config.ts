import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    // Vitest leaves one core idle by default, which is half of a machine with two.
    maxWorkers: '100%',
    allowOnly: false,
    passWithNoTests: false,
    reporters: ['default', './test/helpers/countReporter.ts'],
    coverage: {
      provider: 'v8',
      // A map of lines that no test reaches, not a target: no thresholds.
      include: ['src/**/*.ts'],
      reporter: ['text-summary', 'html'],
    },
    projects: [
      {
        extends: true,
        test: {
          name: 'unit',
          include: ['test/**/*.test.ts'],
          exclude: ['test/whole/**', 'test/page/**'],
          // Some measure a dozen drawn faces, which a busy machine takes long for.
          testTimeout: 60_000,
        },
      },
      {
        // Photos from end to end, and the built command line as a process: run `npm run build` first.
        extends: true,
        test: { name: 'whole', include: ['test/whole/**/*.test.ts'], testTimeout: 60_000 },
      },
      {
        // The page in a real browser, the built command being its server: run `npm run build` first.
        extends: true,
        test: {
          name: 'page',
          include: ['test/page/**/*.test.ts'],
          testTimeout: 120_000,
          hookTimeout: 120_000,
        },
      },
    ],
  },
});
