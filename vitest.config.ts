import { defineConfig } from 'vitest/config';

const common = {
  // Real brokers, browsers and disks on a small machine: a test that waits says for what.
  testTimeout: 30_000,
  hookTimeout: 60_000,
};

export default defineConfig({
  test: {
    maxWorkers: 3,
    projects: [
      {
        test: {
          ...common,
          name: 'by itself',
          include: ['test/{shared,simulator,probe,scenarios,dashboard,docs,support}/**/*.test.ts'],
          // Nothing here keeps state outside of its file, and loading everything anew for each takes a minute.
          isolate: false,
        },
      },
      {
        test: {
          ...common,
          name: 'whole',
          isolate: false,
          include: ['test/{daemon,real}/**/*.test.ts', 'test/*.test.ts'],
          globalSetup: 'test/support/build.ts',
        },
      },
    ],
  },
});
