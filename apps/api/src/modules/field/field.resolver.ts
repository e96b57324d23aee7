import { GraphQLError } from 'graphql';
import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import type { InstallationState, RecordDecisionInput, RecordFieldCheckInput, RecordInstallationInput, RecordTripInput } from '../../generated/schema.js';
import { rowById } from '../../platform/database/rows.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import type { AmendmentView } from '../amendment/amendment.mapper.js';
import { amendmentOf } from '../amendment/amendment.resolver.js';
import { CalibrationVersion } from '../calibration/calibration.entity.js';
import { ThresholdCertificate } from '../certificate/certificate.entity.js';
import { toCertificate, type CertificateView } from '../certificate/certificate.mapper.js';
import { DeviceUnit } from '../device/device.entity.js';
import { toDeviceUnit, type DeviceUnitView } from '../device/device.mapper.js';
import { formatMoment } from '../../platform/graphql/moment.js';
import { Disc, Plant } from '../sample/sample.entity.js';
import { toDisc, toPlant, type DiscView, type PlantView } from '../sample/sample.mapper.js';
import { StoredFile } from '../stored-file/stored-file.entity.js';
import { toStoredFile, type StoredFileView } from '../stored-file/stored-file.mapper.js';
import { ZoneAdvice } from '../zone/zone.entity.js';
import { toZoneAdvice, type ZoneAdviceView } from '../zone/zone.mapper.js';
import { Decision, DecisionOutcome, FieldCheck, Installation, InstallationEnd, LatchReset, Trip } from './field.entity.js';
import {
  toDecision, toDecisionOutcome, toFieldCheck, toFieldReport, toInstallation, toInstallationEnd, toLatchReset, toTrip,
  type DecisionOutcomeView, type DecisionView, type FieldCheckView, type FieldReportView, type InstallationEndView, type InstallationView, type LatchResetView, type TripView,
} from './field.mapper.js';
import { decisionsNaming, decisionsPage, heardAtOf, installationsPage, newestReports, statesOfInstallations, tripsPage } from './field.repository.js';
import { FieldService } from './field.service.js';
import { inferRwc, type InferredRwc } from './infer.js';

/** Entries of one bulk. */
const BULK_MOST = 500;

/** Each by itself and in order: what is wrong with one takes nothing from the others. */
export async function inBulk<I>(inputs: readonly I[], one: (input: I) => Promise<object>): Promise<object[]> {
  if (inputs.length > BULK_MOST) {
    throw new GraphQLError(`${inputs.length} entries were sent at once. Send at most ${BULK_MOST}; nothing was written.`, { extensions: { code: 'BAD_USER_INPUT' } });
  }
  const payloads: object[] = [];
  for (const input of inputs) payloads.push(await one(input));
  return payloads;
}

interface PageOf {
  readonly first?: number;
  readonly after?: string;
}

@Resolver()
export class FieldResolver {
  constructor(private readonly field: FieldService) {}

  @Query()
  async installations(@Args() args: PageOf & { zone?: string }, @Context() context: RequestContext): Promise<object> {
    const page = await installationsPage(await context.read(), args, args.zone ?? null);
    return { ...page, nodes: page.nodes.map(toInstallation) };
  }

  @Query()
  async installation(@Args('id') id: string, @Context() context: RequestContext): Promise<InstallationView | null> {
    const row = await rowById(await context.read(), Installation, id);
    return row && toInstallation(row);
  }

  @Query()
  async trips(@Args() args: PageOf, @Context() context: RequestContext): Promise<object> {
    const page = await tripsPage(await context.read(), args);
    return { ...page, nodes: page.nodes.map(toTrip) };
  }

  @Query()
  async trip(@Args('id') id: string, @Context() context: RequestContext): Promise<TripView | null> {
    const row = await rowById(await context.read(), Trip, id);
    return row && toTrip(row);
  }

  @Query()
  async decisions(@Args() args: PageOf, @Context() context: RequestContext): Promise<object> {
    const page = await decisionsPage(await context.read(), args);
    return { ...page, nodes: page.nodes.map(toDecision) };
  }

  @Query()
  async decision(@Args('id') id: string, @Context() context: RequestContext): Promise<DecisionView | null> {
    const row = await rowById(await context.read(), Decision, id);
    return row && toDecision(row);
  }

  @Mutation()
  recordInstallation(@Args('input') input: RecordInstallationInput, @Context() context: RequestContext): Promise<object> {
    return settle(
      async () => {
        const { row, replayed } = await context.write((tx) => this.field.recordInstallation(tx, context.member, input));
        return { installation: toInstallation(row), replayed, objections: [] };
      },
      { objections: [] },
    );
  }

  @Mutation()
  recordTrip(@Args('input') input: RecordTripInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.field.recordTrip(tx, context.member, input));
      return { trip: toTrip(row), replayed };
    });
  }

  @Mutation()
  async recordTrips(@Args('inputs') inputs: RecordTripInput[], @Context() context: RequestContext): Promise<object[]> {
    return inBulk(inputs, (input) => this.recordTrip(input, context));
  }

  @Mutation()
  recordFieldCheck(@Args('input') input: RecordFieldCheckInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.field.recordFieldCheck(tx, context.member, input));
      return { fieldCheck: toFieldCheck(row), replayed };
    });
  }

  @Mutation()
  recordDecision(@Args('input') input: RecordDecisionInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.field.recordDecision(tx, context.member, input));
      return { decision: toDecision(row), replayed };
    });
  }
}

@Resolver('Installation')
export class InstallationResolver {
  @ResolveField()
  state(@Parent() parent: InstallationView, @Context() context: RequestContext): Promise<InstallationState> {
    return context.load.batch('installationState', parent.id, async (tx, ids) => {
      const states = await statesOfInstallations(tx, ids);
      return ids.map((id) => states.get(id) ?? 'ARMED');
    });
  }

  @ResolveField()
  async deviceUnit(@Parent() parent: InstallationView, @Context() context: RequestContext): Promise<DeviceUnitView> {
    return toDeviceUnit((await context.load.one(DeviceUnit, parent.deviceUnitId))!);
  }

  @ResolveField()
  async certificate(@Parent() parent: InstallationView, @Context() context: RequestContext): Promise<CertificateView> {
    return toCertificate((await context.load.one(ThresholdCertificate, parent.thresholdCertificateId))!);
  }

  @ResolveField()
  async plant(@Parent() parent: InstallationView, @Context() context: RequestContext): Promise<PlantView | null> {
    return parent.plantId === null ? null : toPlant((await context.load.one(Plant, parent.plantId))!);
  }

  @ResolveField()
  async photo(@Parent() parent: InstallationView, @Context() context: RequestContext): Promise<StoredFileView | null> {
    return parent.photoFileId === null ? null : toStoredFile((await context.load.one(StoredFile, parent.photoFileId))!);
  }

  @ResolveField()
  reports(@Parent() parent: InstallationView, @Context() context: RequestContext): Promise<FieldReportView[]> {
    return context.load.batch('newestReports', parent.id, async (tx, ids) => {
      const reports = await newestReports(tx, ids);
      return ids.map((id) => reports.filter(({ installationId }) => installationId === id).map(toFieldReport));
    });
  }

  @ResolveField()
  async resets(@Parent() parent: InstallationView, @Context() context: RequestContext): Promise<LatchResetView[]> {
    return (await context.load.many(LatchReset, 'installationId', parent.id, 'observed_at DESC')).map(toLatchReset);
  }

  @ResolveField()
  async ended(@Parent() parent: InstallationView, @Context() context: RequestContext): Promise<InstallationEndView | null> {
    const [end] = await context.load.many(InstallationEnd, 'installationId', parent.id);
    return end ? toInstallationEnd(end) : null;
  }

  @ResolveField()
  async heardAt(@Parent() parent: InstallationView, @Context() context: RequestContext): Promise<string> {
    return formatMoment(await context.load.batch('heardAt', parent.id, async (tx, ids) => {
      const heard = await heardAtOf(tx, ids);
      return ids.map((id) => heard.get(id)!);
    }));
  }

  @ResolveField()
  async trips(@Parent() parent: InstallationView, @Context() context: RequestContext): Promise<TripView[]> {
    return (await context.load.many(Trip, 'installationId', parent.id, 'seen_at')).map(toTrip);
  }

  @ResolveField()
  async fieldChecks(@Parent() parent: InstallationView, @Context() context: RequestContext): Promise<FieldCheckView[]> {
    return (await context.load.many(FieldCheck, 'installationId', parent.id, 'observed_at')).map(toFieldCheck);
  }
}

async function inferredFor(trip: TripView, context: RequestContext): Promise<InferredRwc | null> {
  if (trip.lightPowerNw === null) return null;
  const installation = (await context.load.one(Installation, trip.installationId))!;
  const certificate = (await context.load.one(ThresholdCertificate, installation.thresholdCertificateId))!;
  const calibration = (await context.load.one(CalibrationVersion, certificate.calibrationVersionId))!;
  return inferRwc(certificate, calibration, Number(trip.lightPowerNw));
}

@Resolver('Trip')
export class TripResolver {
  @ResolveField()
  async installation(@Parent() parent: TripView, @Context() context: RequestContext): Promise<InstallationView> {
    return toInstallation((await context.load.one(Installation, parent.installationId))!);
  }

  @ResolveField()
  async inferredRwc(@Parent() parent: TripView, @Context() context: RequestContext): Promise<number | null> {
    return (await inferredFor(parent, context))?.rwc ?? null;
  }

  @ResolveField()
  async inferredLow(@Parent() parent: TripView, @Context() context: RequestContext): Promise<number | null> {
    return (await inferredFor(parent, context))?.low ?? null;
  }

  @ResolveField()
  async inferredHigh(@Parent() parent: TripView, @Context() context: RequestContext): Promise<number | null> {
    return (await inferredFor(parent, context))?.high ?? null;
  }

  @ResolveField()
  amendedBy(@Parent() parent: TripView, @Context() context: RequestContext): Promise<AmendmentView | null> {
    return amendmentOf(context, parent.id);
  }

  @ResolveField()
  decisions(@Parent() parent: TripView, @Context() context: RequestContext): Promise<DecisionView[]> {
    return context.load.batch('decisionsNaming', parent.id, async (tx, ids) => {
      const decisions = await decisionsNaming(tx, ids);
      return ids.map((id) => decisions.filter(({ tripIds }) => tripIds.includes(id)).map(toDecision));
    });
  }
}

@Resolver('FieldCheck')
export class FieldCheckResolver {
  @ResolveField()
  async installation(@Parent() parent: FieldCheckView, @Context() context: RequestContext): Promise<InstallationView> {
    return toInstallation((await context.load.one(Installation, parent.installationId))!);
  }

  @ResolveField()
  discs(@Parent() parent: FieldCheckView, @Context() context: RequestContext): Promise<DiscView[]> {
    return Promise.all(parent.discIds.map(async (id) => toDisc((await context.load.one(Disc, id))!)));
  }
}

@Resolver('Decision')
export class DecisionResolver {
  @ResolveField()
  trips(@Parent() parent: DecisionView, @Context() context: RequestContext): Promise<TripView[]> {
    return Promise.all(parent.tripIds.map(async (id) => toTrip((await context.load.one(Trip, id))!)));
  }

  @ResolveField()
  async advice(@Parent() parent: DecisionView, @Context() context: RequestContext): Promise<ZoneAdviceView | null> {
    return parent.zoneAdviceId === null ? null : toZoneAdvice((await context.load.one(ZoneAdvice, parent.zoneAdviceId))!);
  }

  @ResolveField()
  async outcomes(@Parent() parent: DecisionView, @Context() context: RequestContext): Promise<DecisionOutcomeView[]> {
    return (await context.load.many(DecisionOutcome, 'decisionId', parent.id, 'observed_at')).map(toDecisionOutcome);
  }
}
