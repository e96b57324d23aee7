import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import type { ApprovalState, CandidateFilterInput, FitCalibrationInput, RecordCalibrationInput } from '../../generated/schema.js';
import { rowById } from '../../platform/database/rows.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { isStale } from '../amendment/amendment.resolver.js';
import { toDryingRun, type DryingRunView } from '../bench/bench.mapper.js';
import { ThresholdCertificate } from '../certificate/certificate.entity.js';
import { toCertificate, type CertificateView } from '../certificate/certificate.mapper.js';
import { Rig } from '../instrument/instrument.entity.js';
import { toRig, type RigView } from '../instrument/instrument.mapper.js';
import { Crop } from '../sample/sample.entity.js';
import { toCrop, type CropView } from '../sample/sample.mapper.js';
import type { SignatureView } from '../signature/signature.mapper.js';
import { approvalStateOf, signaturesOn } from '../signature/signature.resolver.js';
import { Calibration, CalibrationVersion } from './calibration.entity.js';
import { toCalibration, toCalibrationVersion, type CalibrationVersionView, type CalibrationView } from './calibration.mapper.js';
import { calibrationsOf, candidateRuns } from './calibration.repository.js';
import { CalibrationService } from './calibration.service.js';
import { readBack } from './compute.js';

@Resolver()
export class CalibrationRootResolver {
  constructor(private readonly service: CalibrationService) {}

  @Query()
  async calibrations(@Args('cropId') cropId: string | undefined, @Context() context: RequestContext): Promise<CalibrationView[]> {
    return (await calibrationsOf(await context.read(), cropId ?? null)).map(toCalibration);
  }

  @Query()
  async calibration(@Args('id') id: string, @Context() context: RequestContext): Promise<CalibrationView | null> {
    const row = await rowById(await context.read(), Calibration, id);
    return row && toCalibration(row);
  }

  @Query()
  async calibrationVersion(@Args('id') id: string, @Context() context: RequestContext): Promise<CalibrationVersionView | null> {
    const row = await rowById(await context.read(), CalibrationVersion, id);
    return row && toCalibrationVersion(row);
  }

  @Query()
  async calibrationCandidates(@Args() { cropId, filter }: { cropId: string; filter?: CandidateFilterInput | null }, @Context() context: RequestContext): Promise<DryingRunView[]> {
    const moment = (field: string, text: string | null | undefined): Date | null => (text ? parseMoment(field, text).at : null);
    const narrowed = { ...filter, openedFrom: moment('openedFrom', filter?.openedFrom), openedBefore: moment('openedBefore', filter?.openedBefore) };
    return (await candidateRuns(await context.read(), cropId, narrowed)).map(toDryingRun);
  }

  @Mutation()
  recordCalibration(@Args('input') input: RecordCalibrationInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.service.recordCalibration(tx, context.member, input));
      return { calibration: toCalibration(row), replayed };
    });
  }

  @Mutation()
  fitCalibration(@Args('input') input: FitCalibrationInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.service.fit(tx, context.member, input));
      return { calibrationVersion: toCalibrationVersion(row), replayed };
    });
  }
}

@Resolver('Calibration')
export class CalibrationResolver {
  @ResolveField()
  async crop(@Parent() parent: CalibrationView, @Context() context: RequestContext): Promise<CropView> {
    return toCrop((await context.load.one(Crop, parent.cropId))!);
  }

  @ResolveField()
  async versions(@Parent() parent: CalibrationView, @Context() context: RequestContext): Promise<CalibrationVersionView[]> {
    return (await context.load.many(CalibrationVersion, 'calibrationId', parent.id, 'version DESC')).map(toCalibrationVersion);
  }
}

@Resolver('CalibrationVersion')
export class CalibrationVersionResolver {
  @ResolveField()
  refitOf(@Parent() { document }: CalibrationVersionView): object | null {
    return document.refitOf ? { kind: 'calibration_version', ...document.refitOf } : null;
  }

  @ResolveField()
  async calibration(@Parent() parent: CalibrationVersionView, @Context() context: RequestContext): Promise<CalibrationView> {
    return toCalibration((await context.load.one(Calibration, parent.calibrationId))!);
  }

  @ResolveField()
  async rig(@Parent() parent: CalibrationVersionView, @Context() context: RequestContext): Promise<RigView> {
    return toRig((await context.load.one(Rig, parent.rigId))!);
  }

  @ResolveField()
  state(@Parent() parent: CalibrationVersionView, @Context() context: RequestContext): Promise<ApprovalState> {
    return approvalStateOf(context, 'calibration_version', parent.id);
  }

  @ResolveField()
  stale(@Parent() parent: CalibrationVersionView, @Context() context: RequestContext): Promise<boolean> {
    return isStale(context, parent.id);
  }

  @ResolveField()
  signatures(@Parent() parent: CalibrationVersionView, @Context() context: RequestContext): Promise<SignatureView[]> {
    return signaturesOn(context, parent.id);
  }

  @ResolveField()
  rwcAt(@Parent() parent: CalibrationVersionView, @Args() args: { transmittance: number; level?: number }): Promise<object> {
    return settle(async () => {
      const { refused, rwc, ...rest } = readBack(parent.family, parent.document, args.transmittance, args.level ?? 0.95);
      const problem = refused && { code: 'OUT_OF_SCOPE', field: 'transmittance', message: refused, remedy: 'Use a transmittance inside the fitted range.' };
      return { ...rest, rwc: Number.isFinite(rwc) ? rwc : null, problem };
    });
  }

  @ResolveField()
  async certificates(@Parent() parent: CalibrationVersionView, @Context() context: RequestContext): Promise<CertificateView[]> {
    return (await context.load.many(ThresholdCertificate, 'calibrationVersionId', parent.id, 'id DESC')).map(toCertificate);
  }
}
