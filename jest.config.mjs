/**
 * One Jest for every check.
 * ESM throughout (Nest 12 is ESM only): run with NODE_OPTIONS=--experimental-vm-modules, as `npm run jest` does.
 */
const shared = {
  testEnvironment: 'node',
  testEnvironmentOptions: { customExportConditions: ['threadleaf-source', 'node'] },
  extensionsToTreatAsEsm: ['.ts'],
  transform: { '^.+\\.ts$': '@swc/jest' },
  moduleNameMapper: { '^(\\.{1,2}/.*)\\.js$': '$1' },
  setupFiles: ['reflect-metadata'],
};

export default {
  // Starting PostgreSQL and the API is slow on a machine that does other work too; a hung test still ends.
  testTimeout: 180_000,
  projects: [
    { ...shared, displayName: 'libs', testMatch: ['<rootDir>/{libs/*,apps/web}/test/**/*.test.ts'] },
    {
      ...shared,
      displayName: 'screens',
      testMatch: ['<rootDir>/apps/web/test/**/*.test.tsx'],
      testEnvironment: 'jsdom',
      extensionsToTreatAsEsm: ['.ts', '.tsx'],
      transform: {
        '^.+\\.tsx?$': ['@swc/jest', { swcrc: false, jsc: { parser: { syntax: 'typescript', tsx: true }, transform: { react: { runtime: 'automatic' } }, target: 'es2023' }, module: { type: 'es6' } }],
      },
      moduleNameMapper: { '\\.module\\.css$': '<rootDir>/apps/web/test/support/css-module.mjs', ...shared.moduleNameMapper },
      setupFiles: ['<rootDir>/apps/web/test/support/screen-setup.mjs'],
    },
    {
      ...shared,
      displayName: 'server',
      testMatch: [
        '<rootDir>/apps/{api,cli}/test/**/*.test.ts',
        '<rootDir>/test/{api,database,isolation,fault,season}/**/*.test.ts',
      ],
      globalSetup: '<rootDir>/test/support/postgres-setup.mjs',
      globalTeardown: '<rootDir>/test/support/postgres-teardown.mjs',
    },
    {
      ...shared,
      displayName: 'browser',
      testMatch: ['<rootDir>/test/browser/**/*.test.ts'],
      globalSetup: '<rootDir>/test/support/browser-setup.mjs',
      globalTeardown: '<rootDir>/test/support/postgres-teardown.mjs',
    },
  ],
};
