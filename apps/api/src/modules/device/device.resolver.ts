import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import type {
  DeviceUnitState, FitBiasThresholdCurveInput, RecordBiasSweepInput, RecordTripTestInput, RegisterDeviceLotInput, RegisterDeviceUnitInput,
} from '../../generated/schema.js';
import { rowById } from '../../platform/database/rows.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import type { AmendmentView } from '../amendment/amendment.mapper.js';
import { amendmentOf, isStale } from '../amendment/amendment.resolver.js';
import { ThresholdCertificate } from '../certificate/certificate.entity.js';
import { toCertificate, type CertificateView } from '../certificate/certificate.mapper.js';
import { Installation } from '../field/field.entity.js';
import { toInstallation, type InstallationView } from '../field/field.mapper.js';
import type { StoredFileView } from '../stored-file/stored-file.mapper.js';
import { storedFileOf } from '../stored-file/stored-file.resolver.js';
import { BiasSweep, BiasThresholdCurve, DeviceLot, DeviceUnit, TripTest } from './device.entity.js';
import {
  toBiasSweep, toCurve, toDeviceLot, toDeviceUnit, toTripTest, type BiasSweepView, type CurveView, type DeviceLotView, type DeviceUnitView, type TripTestView,
} from './device.mapper.js';
import { allLots, deviceUnitsPage, statesOfUnits } from './device.repository.js';
import { DeviceService } from './device.service.js';

const IN_TIME = 'observed_at, id';

@Resolver()
export class DeviceResolver {
  constructor(private readonly devices: DeviceService) {}

  @Query()
  async deviceUnits(@Args() args: { first?: number; after?: string; search?: string }, @Context() context: RequestContext): Promise<object> {
    const page = await deviceUnitsPage(await context.read(), args, args.search ?? null);
    return { ...page, nodes: page.nodes.map(toDeviceUnit) };
  }

  @Query()
  async deviceUnit(@Args('id') id: string, @Context() context: RequestContext): Promise<DeviceUnitView | null> {
    const row = await rowById(await context.read(), DeviceUnit, id);
    return row && toDeviceUnit(row);
  }

  @Query()
  async deviceLots(@Context() context: RequestContext): Promise<DeviceLotView[]> {
    return (await allLots(await context.read())).map(toDeviceLot);
  }

  @Mutation()
  registerDeviceLot(@Args('input') input: RegisterDeviceLotInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.devices.registerLot(tx, context.member, input));
      return { deviceLot: toDeviceLot(row), replayed };
    });
  }

  @Mutation()
  registerDeviceUnit(@Args('input') input: RegisterDeviceUnitInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.devices.registerUnit(tx, context.member, input));
      return { deviceUnit: toDeviceUnit(row), replayed };
    });
  }

  @Mutation()
  recordBiasSweep(@Args('input') input: RecordBiasSweepInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.devices.recordBiasSweep(tx, context.member, input));
      return { biasSweep: toBiasSweep(row), replayed };
    });
  }

  @Mutation()
  recordTripTest(@Args('input') input: RecordTripTestInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.devices.recordTripTest(tx, context.member, input));
      return { tripTest: toTripTest(row), replayed };
    });
  }

  @Mutation()
  fitBiasThresholdCurve(@Args('input') input: FitBiasThresholdCurveInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.devices.fitCurve(tx, context.member, input));
      return { curve: toCurve(row), replayed };
    });
  }
}

@Resolver('DeviceLot')
export class DeviceLotResolver {
  @ResolveField()
  async units(@Parent() parent: DeviceLotView, @Context() context: RequestContext): Promise<DeviceUnitView[]> {
    return (await context.load.many(DeviceUnit, 'deviceLotId', parent.id, 'label')).map(toDeviceUnit);
  }
}

@Resolver('DeviceUnit')
export class DeviceUnitResolver {
  @ResolveField()
  async lot(@Parent() parent: DeviceUnitView, @Context() context: RequestContext): Promise<DeviceLotView> {
    return toDeviceLot((await context.load.one(DeviceLot, parent.deviceLotId))!);
  }

  @ResolveField()
  state(@Parent() parent: DeviceUnitView, @Context() context: RequestContext): Promise<DeviceUnitState> {
    return context.load.batch('unitState', parent.id, async (tx, ids) => {
      const states = await statesOfUnits(tx, ids);
      return ids.map((id) => states.get(id) ?? 'RECEIVED');
    });
  }

  @ResolveField()
  async biasSweeps(@Parent() parent: DeviceUnitView, @Context() context: RequestContext): Promise<BiasSweepView[]> {
    return (await context.load.many(BiasSweep, 'deviceUnitId', parent.id, IN_TIME)).map(toBiasSweep);
  }

  @ResolveField()
  async tripTests(@Parent() parent: DeviceUnitView, @Context() context: RequestContext): Promise<TripTestView[]> {
    return (await context.load.many(TripTest, 'deviceUnitId', parent.id, IN_TIME)).map(toTripTest);
  }

  @ResolveField()
  async curve(@Parent() parent: DeviceUnitView, @Context() context: RequestContext): Promise<CurveView | null> {
    const [newest] = await context.load.many(BiasThresholdCurve, 'deviceUnitId', parent.id, 'id DESC');
    return newest ? toCurve(newest) : null;
  }

  @ResolveField()
  async certificates(@Parent() parent: DeviceUnitView, @Context() context: RequestContext): Promise<CertificateView[]> {
    return (await context.load.many(ThresholdCertificate, 'deviceUnitId', parent.id, 'id DESC')).map(toCertificate);
  }

  @ResolveField()
  async installations(@Parent() parent: DeviceUnitView, @Context() context: RequestContext): Promise<InstallationView[]> {
    return (await context.load.many(Installation, 'deviceUnitId', parent.id, 'id DESC')).map(toInstallation);
  }
}

@Resolver('BiasThresholdCurve')
export class CurveResolver {
  @ResolveField()
  stale(@Parent() parent: CurveView, @Context() context: RequestContext): Promise<boolean> {
    return isStale(context, parent.id);
  }

  @ResolveField()
  async tripTests(@Parent() parent: CurveView, @Context() context: RequestContext): Promise<TripTestView[]> {
    return Promise.all(parent.tripTestIds.map(async (id) => toTripTest((await context.load.one(TripTest, id))!)));
  }
}

@Resolver('BiasSweep')
export class BiasSweepResolver {
  @ResolveField()
  file(@Parent() parent: BiasSweepView, @Context() context: RequestContext): Promise<StoredFileView | null> {
    return storedFileOf(context, parent.storedFileId);
  }

  @ResolveField()
  amendedBy(@Parent() parent: BiasSweepView, @Context() context: RequestContext): Promise<AmendmentView | null> {
    return amendmentOf(context, parent.id);
  }
}

@Resolver('TripTest')
export class TripTestResolver {
  @ResolveField()
  file(@Parent() parent: TripTestView, @Context() context: RequestContext): Promise<StoredFileView | null> {
    return storedFileOf(context, parent.storedFileId);
  }

  @ResolveField()
  amendedBy(@Parent() parent: TripTestView, @Context() context: RequestContext): Promise<AmendmentView | null> {
    return amendmentOf(context, parent.id);
  }
}
