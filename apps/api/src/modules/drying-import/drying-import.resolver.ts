import { Args, Context, Mutation, Query, Resolver } from '@nestjs/graphql';
import type { DryingImportInput } from '../../generated/schema.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { formatMoment } from '../../platform/graphql/moment.js';
import { toRwcSeries } from '../water/water.mapper.js';
import { DryingImportService, rwcOfRow } from './drying-import.service.js';

/** Rows and flags a preview shows; the import itself has no such limit. */
const SHOWN = 50;

@Resolver()
export class DryingImportResolver {
  constructor(private readonly imports: DryingImportService) {}

  @Query()
  async dryingImportMappings(@Context() context: RequestContext): Promise<object[]> {
    const rows = await this.imports.mappings(await context.read());
    return rows.map(({ mapping, recordedAt, fileName }) => ({ ...mapping, usedAt: formatMoment(recordedAt), fileName }));
  }

  @Mutation()
  previewDryingImport(@Args('input') input: DryingImportInput, @Context() context: RequestContext): Promise<object> {
    return settle(
      async () => {
        const { file, flags, alreadyImported } = await this.imports.preview(await context.read(), input);
        const rows = file.discs.flatMap((disc) => disc.rows.map((row) => ({ disc, row })));
        return {
          delimiter: file.delimiter,
          columns: file.columns,
          rowCount: file.rowCount,
          discCount: file.discs.length,
          rows: rows.slice(0, SHOWN).map(({ disc, row }) => ({
            line: row.line,
            disc: disc.name,
            at: formatMoment(row.moment.at, row.moment.offsetMin),
            massMg: row.mass.massMg,
            rwc: rwcOfRow(disc, row),
          })),
          errors: file.errors,
          flags: flags.slice(0, SHOWN),
          alreadyImported,
        };
      },
      { columns: [], rowCount: 0, discCount: 0, rows: [], errors: [], flags: [], alreadyImported: false },
    );
  }

  @Mutation()
  importDryingSeries(@Args('input') input: DryingImportInput, @Context() context: RequestContext): Promise<object> {
    return settle(
      async () => {
        const imported = await context.write((tx) => this.imports.import(tx, context.member, input));
        return { ...imported, rwcSeries: imported.rwcSeries.map(toRwcSeries), errors: [] };
      },
      { discCount: 0, weighingCount: 0, alreadyImported: false, rwcSeries: [], errors: [] },
    );
  }
}
