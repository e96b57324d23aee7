/** Types of the GraphQL contract: one set for the server's resolvers, one for the web's documents. */
const scalars = { UUID: 'string', Moment: 'string', Decimal: 'string', JSON: 'unknown' };

export default {
  schema: 'apps/api/schema/*.graphql',
  silent: true,
  emitLegacyCommonJSImports: false,
  generates: {
    'apps/api/src/generated/schema.ts': {
      plugins: ['typescript'],
      config: { scalars, enumsAsTypes: true, skipTypename: true, maybeValue: 'T | null | undefined' },
    },
    'apps/web/src/generated/': {
      preset: 'client',
      documents: ['apps/web/src/**/*.{ts,tsx}', '!apps/web/src/generated/**'],
      presetConfig: { fragmentMasking: false },
      config: { scalars, enumsAsTypes: true, useTypeImports: true },
    },
  },
  ignoreNoDocuments: true,
};
