/** Imports point down only; see DEVELOPERS.md, "The map". Checked by `npm run lint` and by test/isolation. */
export default {
  forbidden: [
    {
      name: 'libs-know-no-app',
      comment: 'A pure library is used by apps and never uses one.',
      severity: 'error',
      from: { path: '^libs/' },
      to: { path: '^(apps|test|migrations)/' },
    },
    {
      name: 'libs-know-no-framework',
      comment: 'No Nest, no SQL, no file, no network in a pure library (its tests may read files).',
      severity: 'error',
      from: { path: '^libs/[^/]+/src/' },
      to: { path: '^(node_modules/(@nestjs|typeorm|pg|graphql|@apollo|react)|fs|net|http|https|child_process|dns)(/|$)' },
    },
    {
      name: 'web-knows-no-server',
      comment: 'The web talks to the server through the GraphQL contract.',
      severity: 'error',
      from: { path: '^apps/web/' },
      to: { path: '^apps/(api|cli)/' },
    },
    {
      name: 'web-features-stand-alone',
      comment: 'A feature of the web never imports another feature: what two share moves to ui, plots or offline.',
      severity: 'error',
      from: { path: '^apps/web/src/features/([^/]+)/' },
      to: { path: '^apps/web/src/features/', pathNot: '^apps/web/src/features/$1/' },
    },
    {
      name: 'api-knows-no-cli-or-web',
      severity: 'error',
      from: { path: '^apps/api/' },
      to: { path: '^apps/(web|cli)/' },
    },
    {
      name: 'verifier-knows-no-api',
      comment: 'The verifier shares only the pure libraries with what it verifies.',
      severity: 'error',
      from: { path: '^apps/cli/src/verify/' },
      to: { path: '^apps/api/' },
    },
    {
      name: 'typeorm-stays-in-repositories',
      comment: 'TypeORM is known to entities, repositories and the database platform only.',
      severity: 'error',
      from: { path: '^apps/api/src/', pathNot: '(\\.entity\\.ts$|\\.repository\\.ts$|/platform/database/|/platform/ledger/)' },
      to: { path: '^node_modules/(typeorm|@nestjs/typeorm|pg)/' },
    },
    { name: 'no-circles', severity: 'error', from: { pathNot: '\\.entity\\.ts$' }, to: { circular: true } },
  ],
  options: {
    tsConfig: { fileName: 'tsconfig.json' },
    tsPreCompilationDeps: true,
    enhancedResolveOptions: { conditionNames: ['threadleaf-source', 'import', 'node', 'default'], exportsFields: ['exports'], mainFields: ['module', 'main'] },
    doNotFollow: { path: 'node_modules' },
    exclude: { path: '(^|/)(dist|generated)/' },
  },
};
