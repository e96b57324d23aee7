import { Args, Context, Mutation, Parent, ResolveField, Resolver } from '@nestjs/graphql';
import type { CalibrationUseInput, Flag, RecordCalibrationScopeInput } from '../../generated/schema.js';
import { rowsByIds } from '../../platform/database/rows.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { formatMoment, parseMoment } from '../../platform/graphql/moment.js';
import { recordView } from '../../platform/graphql/record-view.js';
import { CalibrationVersion } from '../calibration/calibration.entity.js';
import type { CalibrationVersionView } from '../calibration/calibration.mapper.js';
import { Installation } from '../field/field.entity.js';
import { toInstallation } from '../field/field.mapper.js';
import type { CalibrationScope } from './calibration-scope.entity.js';
import { installationsOn, newestScopes } from './calibration-scope.repository.js';
import { CalibrationScopeService } from './calibration-scope.service.js';
import { findingsToday, scopeFindings } from './scope-findings.js';

const toScope = ({ validUntil, ...row }: CalibrationScope): object => ({ ...row, ...recordView({ ...row, validUntil } as CalibrationScope), validUntil: validUntil && formatMoment(validUntil) });

@Resolver('CalibrationVersion')
export class CalibrationScopeResolver {
  constructor(private readonly scopes: CalibrationScopeService) {}

  @Mutation()
  recordCalibrationScope(@Args('input') input: RecordCalibrationScopeInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.scopes.record(tx, context.member, input));
      return { scope: toScope(row), replayed };
    });
  }

  @ResolveField()
  async scope(@Parent() parent: CalibrationVersionView, @Context() context: RequestContext): Promise<object | null> {
    const row = await context.load.batch('scope', parent.id, async (tx, ids) => {
      const scopes = await newestScopes(tx, ids);
      return ids.map((id) => scopes.get(id) ?? null);
    });
    return row && toScope(row);
  }

  @ResolveField()
  async findings(@Parent() parent: CalibrationVersionView, @Context() context: RequestContext): Promise<Flag[]> {
    return context.load.batch('findings today', parent.id, async (tx, ids) => {
      const found = await findingsToday(tx, await rowsByIds(tx, CalibrationVersion, ids), context.now);
      return ids.map((id) => found.get(id) ?? []);
    });
  }

  @ResolveField('scopeFindings')
  async findingsOfUse(@Parent() parent: CalibrationVersionView, @Args('use') { until, ...use }: CalibrationUseInput, @Context() context: RequestContext): Promise<Flag[]> {
    const version = (await context.load.one(CalibrationVersion, parent.id))!;
    return scopeFindings(await context.read(), version, { ...use, at: context.now, until: until ? parseMoment('until', until).at : null });
  }

  @ResolveField()
  async installations(@Parent() parent: CalibrationVersionView, @Context() context: RequestContext): Promise<object[]> {
    const ids = await context.load.batch('installations on version', parent.id, async (tx, versionIds) => {
      const found = await installationsOn(tx, versionIds);
      return versionIds.map((versionId) => found.filter((one) => one.versionId === versionId).map(({ id }) => id));
    });
    const rows = await Promise.all(ids.map((id) => context.load.one(Installation, id)));
    return rows.map((row) => toInstallation(row!));
  }
}
