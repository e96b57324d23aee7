import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import type { AdviseZoneInput, AgreementGroup, ApprovalState, RecordRainInput, RecordSitePlanInput, RecordZoneRuleInput } from '../../generated/schema.js';
import { rowById, rowsWhere } from '../../platform/database/rows.js';
import { notFound, settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { isStale } from '../amendment/amendment.resolver.js';
import { Decision, FieldCheck, Installation, Trip } from '../field/field.entity.js';
import { toDecision, toFieldCheck, toInstallation, toTrip, type FieldCheckView, type InstallationView, type TripView } from '../field/field.mapper.js';
import { toJob } from '../job/job.mapper.js';
import type { SignatureView } from '../signature/signature.mapper.js';
import { approvalStateOf, signaturesOn } from '../signature/signature.resolver.js';
import { StoredFile } from '../stored-file/stored-file.entity.js';
import { toStoredFile, type StoredFileView } from '../stored-file/stored-file.mapper.js';
import { adviseFrom } from './advise.js';
import { fieldAgreement, type FieldAgreementView, type RealisedTripView } from './agreement.js';
import { zoneFacts, type KnownBy } from './zone-events.js';
import { ZoneAdvice, ZoneRule } from './zone.entity.js';
import { toRain, toSitePlan, toStanding, toZoneAdvice, toZoneRule, type SitePlanView, type ZoneAdviceView, type ZoneRuleView, type ZoneStandingView } from './zone.mapper.js';
import { fieldMarks, newestSitePlans, speakingRules, zonesNow, type FieldMarkRow, type ZoneRow } from './zone.repository.js';
import { FieldWatchService } from './field-watch.service.js';
import { ZoneService } from './zone.service.js';

interface ReplayQuestion {
  readonly zoneRuleId: string;
  readonly from: string;
  readonly until: string;
  readonly everyMinutes: number;
  readonly known: KnownBy;
}

@Resolver()
export class ZoneRootResolver {
  constructor(private readonly zoneService: ZoneService, private readonly watch: FieldWatchService) {}

  @Query()
  async zones(@Context() context: RequestContext): Promise<ZoneRow[]> {
    return zonesNow(await context.read(), context.now, null);
  }

  @Query()
  async zone(@Args('name') name: string, @Context() context: RequestContext): Promise<ZoneRow | null> {
    return (await zonesNow(await context.read(), context.now, name))[0] ?? null;
  }

  @Query()
  async zoneRule(@Args('id') id: string, @Context() context: RequestContext): Promise<ZoneRuleView | null> {
    const row = await rowById(await context.read(), ZoneRule, id);
    return row && toZoneRule(row);
  }

  @Query()
  async zoneAdvice(@Args('id') id: string, @Context() context: RequestContext): Promise<ZoneAdviceView | null> {
    const row = await rowById(await context.read(), ZoneAdvice, id);
    return row && toZoneAdvice(row);
  }

  @Query()
  async replayZoneRule(@Args() question: ReplayQuestion, @Context() context: RequestContext): Promise<object> {
    const [from, until] = [parseMoment('from', question.from).at, parseMoment('until', question.until).at];
    const tx = await context.read();
    const rule = await rowById(tx, ZoneRule, question.zoneRuleId);
    if (!rule) throw notFound('zoneRuleId', 'The rule');
    const { changes, counts } = await this.zoneService.replay(tx, rule, question.known, { from, until, everyMinutes: question.everyMinutes }, context.now);
    const decisions = await rowsWhere(tx, Decision, 'zone = $2 AND decided_at BETWEEN $3 AND $4', [rule.zone, from, until], 'ORDER BY decided_at LIMIT 500');
    return { changes: changes.map(toStanding), ...counts, decisions: decisions.map(toDecision) };
  }

  @Query()
  async zoneRuleRisk(@Args() args: { zoneRuleId: string; wetRwc: number; dryRwc: number }, @Context() context: RequestContext): Promise<object> {
    return this.zoneService.risk(await context.read(), args.zoneRuleId, args.wetRwc, args.dryRwc);
  }

  @Query()
  async fieldMarks(@Context() context: RequestContext): Promise<FieldMarkRow[]> {
    return fieldMarks(await context.read(), context.now);
  }

  @Query()
  async fieldAgreement(@Args() { by, marginRwc }: { by: AgreementGroup; marginRwc: number }, @Context() context: RequestContext): Promise<FieldAgreementView[]> {
    return fieldAgreement(await context.read(), by, marginRwc);
  }

  @Query()
  async sitePlans(@Context() context: RequestContext): Promise<SitePlanView[]> {
    return (await newestSitePlans(await context.read())).map(toSitePlan);
  }

  @Mutation()
  lookOverField(@Args('id') id: string, @Context() context: RequestContext): Promise<object> {
    return settle(async () => ({ job: toJob(await context.write((tx) => this.watch.start(tx, context.member, id))), replayed: false }));
  }

  @Mutation()
  recordZoneRule(@Args('input') input: RecordZoneRuleInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.zoneService.recordZoneRule(tx, context.member, input));
      return { zoneRule: toZoneRule(row), replayed };
    });
  }

  @Mutation()
  adviseZone(@Args('input') input: AdviseZoneInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.zoneService.advise(tx, context.member, input));
      return { zoneAdvice: toZoneAdvice(row), replayed };
    });
  }

  @Mutation()
  recordRain(@Args('input') input: RecordRainInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.zoneService.recordRain(tx, context.member, input));
      return { rain: toRain(row), replayed };
    });
  }

  @Mutation()
  recordSitePlan(@Args('input') input: RecordSitePlanInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.zoneService.recordSitePlan(tx, context.member, input));
      return { sitePlan: toSitePlan(row), replayed };
    });
  }
}

@Resolver('Zone')
export class ZoneResolver {
  @ResolveField()
  async rule(@Parent() parent: ZoneRow, @Context() context: RequestContext): Promise<ZoneRuleView | null> {
    const rule = await speakingRuleOf(parent.name, context);
    return rule && toZoneRule(rule);
  }

  @ResolveField()
  async rules(@Parent() parent: ZoneRow, @Context() context: RequestContext): Promise<ZoneRuleView[]> {
    return (await context.load.many(ZoneRule, 'zone', parent.name, 'version DESC')).map(toZoneRule);
  }

  @ResolveField()
  async standing(@Parent() parent: ZoneRow, @Context() context: RequestContext): Promise<ZoneStandingView | null> {
    const rule = await speakingRuleOf(parent.name, context);
    if (!rule) return null;
    return toStanding(adviseFrom(rule, await zoneFacts(await context.read(), parent.name, context.now), context.now));
  }
}

const speakingRuleOf = (zone: string, context: RequestContext): Promise<ZoneRule | null> =>
  context.load.batch('speaking rule', zone, async (tx, zones) => {
    const rules = await speakingRules(tx, zones);
    return zones.map((wanted) => rules.get(wanted) ?? null);
  });

@Resolver('ZoneRule')
export class ZoneRuleResolver {
  @ResolveField()
  state(@Parent() parent: ZoneRuleView, @Context() context: RequestContext): Promise<ApprovalState> {
    return approvalStateOf(context, 'zone_rule', parent.id);
  }

  @ResolveField()
  signatures(@Parent() parent: ZoneRuleView, @Context() context: RequestContext): Promise<SignatureView[]> {
    return signaturesOn(context, parent.id);
  }
}

@Resolver('UnitStanding')
export class UnitStandingResolver {
  @ResolveField()
  async installation(@Parent() parent: { readonly installationId: string }, @Context() context: RequestContext): Promise<InstallationView> {
    return toInstallation((await context.load.one(Installation, parent.installationId))!);
  }
}

@Resolver('RealisedTrip')
export class RealisedTripResolver {
  @ResolveField()
  async fieldCheck(@Parent() parent: RealisedTripView, @Context() context: RequestContext): Promise<FieldCheckView> {
    return toFieldCheck((await context.load.one(FieldCheck, parent.fieldCheckId))!);
  }

  @ResolveField()
  async trip(@Parent() parent: RealisedTripView, @Context() context: RequestContext): Promise<TripView> {
    return toTrip((await context.load.one(Trip, parent.tripId))!);
  }
}

@Resolver('ZoneAdvice')
export class ZoneAdviceResolver {
  @ResolveField()
  async rule(@Parent() parent: ZoneAdviceView, @Context() context: RequestContext): Promise<ZoneRuleView> {
    return toZoneRule((await context.load.one(ZoneRule, parent.zoneRuleId))!);
  }

  @ResolveField()
  stale(@Parent() parent: ZoneAdviceView, @Context() context: RequestContext): Promise<boolean> {
    return isStale(context, parent.id);
  }
}

@Resolver('SitePlan')
export class SitePlanResolver {
  @ResolveField()
  async file(@Parent() parent: SitePlanView, @Context() context: RequestContext): Promise<StoredFileView> {
    return toStoredFile((await context.load.one(StoredFile, parent.storedFileId))!);
  }
}
