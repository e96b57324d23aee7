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
import { Disc } from '../sample/sample.entity.js';
import { toDisc, type DiscView } from '../sample/sample.mapper.js';
import { Decision, FieldCheck, Installation, Trip } from './field.entity.js';
import {
  toDecision, toFieldCheck, toInstallation, toTrip, type DecisionView, type FieldCheckView, type InstallationView, type TripView,
} from './field.mapper.js';
import { decisionsNaming, decisionsPage, installationsPage, statesOfInstallations, tripsPage } from './field.repository.js';
import { FieldService } from './field.service.js';
import { inferRwc, type InferredRwc } from './infer.js';

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
}
