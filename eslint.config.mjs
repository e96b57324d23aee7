import tseslint from 'typescript-eslint';

export default tseslint.config(
  { ignores: ['dist/**', 'node_modules/**', 'data/**', '**/generated/**', 'test/bench/out/**'] },
  ...tseslint.configs.recommended,
  {
    files: ['**/*.ts', '**/*.tsx'],
    rules: {
      '@typescript-eslint/no-explicit-any': 'error',
      '@typescript-eslint/no-unused-vars': ['error', { argsIgnorePattern: '^_', varsIgnorePattern: '^_' }],
      // A "type only" import of an injected class erases Nest's decorator metadata and breaks injection silently.
      '@typescript-eslint/consistent-type-imports': 'off',
      'no-restricted-syntax': [
        'error',
        { selector: "CallExpression[callee.property.name='only']", message: 'A focused test hides all the others.' },
        { selector: "CallExpression[callee.property.name='skip']", message: 'A skipped test proves nothing.' },
      ],
      'max-lines': ['warn', { max: 400, skipBlankLines: true, skipComments: true }],
    },
  },
  {
    // Answers of the API are compared with what is expected field by field.
    files: ['test/**/*.ts', 'apps/*/test/**/*.{ts,tsx}'],
    rules: { '@typescript-eslint/no-explicit-any': 'off' },
  },
  {
    files: ['{libs/*,apps/api,apps/cli}/src/**/*.ts'],
    rules: {
      'no-restricted-syntax': [
        'error',
        {
          selector: "BinaryExpression[operator='**']:not([right.value=2]):not([left.bigint])",
          message: 'Engines differ in the last digits of a power, and a result must recompute to the same bytes on another Node: use raise() of #libs/numeric. Squares are safe.',
        },
        { selector: "CallExpression[callee.object.name='Math'][callee.property.name='pow']", message: 'Use raise() of #libs/numeric: engines differ in the last digits of Math.pow.' },
      ],
    },
  },
  {
    files: ['libs/*/src/**/*.ts'],
    rules: {
      // Pure libraries: the same inputs give the same bytes, for ever.
      'no-restricted-globals': ['error', 'process', 'fetch', 'setTimeout', 'setInterval', 'performance'],
      'no-restricted-properties': [
        'error',
        { object: 'Math', property: 'random', message: 'Pass in a seeded generator from #libs/numeric.' },
        { object: 'Date', property: 'now', message: 'A library has no clock: pass the time in.' },
      ],
    },
  },
);
