import { Args, Context, Mutation, Parent, ResolveField, Resolver } from '@nestjs/graphql';
import type { EndInstallationInput, RecordDecisionOutcomeInput, RecordFieldReportInput, RecordLatchResetInput } from '../../generated/schema.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { Decision, Installation } from './field.entity.js';
import {
  toDecision, toDecisionOutcome, toFieldReport, toInstallation, toInstallationEnd, toLatchReset, type DecisionOutcomeView, type DecisionView, type InstallationView,
} from './field.mapper.js';
import { FieldReportService } from './field-report.service.js';
import { inBulk } from './field.resolver.js';

@Resolver()
export class FieldReportRootResolver {
  constructor(private readonly reports: FieldReportService) {}

  @Mutation()
  recordFieldReports(@Args('inputs') inputs: RecordFieldReportInput[], @Context() context: RequestContext): Promise<object[]> {
    return inBulk(inputs, (input) => settle(async () => {
      const { row, replayed } = await context.write((tx) => this.reports.recordFieldReport(tx, context.member, input));
      return { fieldReport: toFieldReport(row), replayed };
    }));
  }

  @Mutation()
  recordLatchReset(@Args('input') input: RecordLatchResetInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.reports.recordLatchReset(tx, context.member, input));
      return { latchReset: toLatchReset(row), replayed };
    });
  }

  @Mutation()
  endInstallation(@Args('input') input: EndInstallationInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.reports.endInstallation(tx, context.member, input));
      return { installationEnd: toInstallationEnd(row), replayed };
    });
  }

  @Mutation()
  recordDecisionOutcome(@Args('input') input: RecordDecisionOutcomeInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.reports.recordDecisionOutcome(tx, context.member, input));
      return { decisionOutcome: toDecisionOutcome(row), replayed };
    });
  }
}

const installationOf = async (parent: { readonly installationId: string }, context: RequestContext): Promise<InstallationView> =>
  toInstallation((await context.load.one(Installation, parent.installationId))!);

@Resolver('FieldReport')
export class FieldReportResolver {
  @ResolveField()
  installation(@Parent() parent: { readonly installationId: string }, @Context() context: RequestContext): Promise<InstallationView> {
    return installationOf(parent, context);
  }
}

@Resolver('LatchReset')
export class LatchResetResolver extends FieldReportResolver {}

@Resolver('InstallationEnd')
export class InstallationEndResolver extends FieldReportResolver {}

@Resolver('DecisionOutcome')
export class DecisionOutcomeResolver {
  @ResolveField()
  async decision(@Parent() parent: DecisionOutcomeView, @Context() context: RequestContext): Promise<DecisionView> {
    return toDecision((await context.load.one(Decision, parent.decisionId))!);
  }
}
