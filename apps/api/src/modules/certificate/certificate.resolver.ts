import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import type {
  ApprovalState, CertificateTrial, CertificateTrialInput, CertificateValidity, GuardBandTarget, GuardBandTargetInput, IssueCertificateInput, IssueCertificatesInput, RecordLightReferenceInput, SignCertificateBatchInput,
} from '../../generated/schema.js';
import { rowById } from '../../platform/database/rows.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { jobById } from '../../platform/jobs/job.repository.js';
import type { AmendmentView } from '../amendment/amendment.mapper.js';
import { amendmentOf, isStale } from '../amendment/amendment.resolver.js';
import { CalibrationVersion } from '../calibration/calibration.entity.js';
import { toCalibrationVersion, type CalibrationVersionView } from '../calibration/calibration.mapper.js';
import { BiasThresholdCurve, DeviceUnit } from '../device/device.entity.js';
import { toCurve, toDeviceUnit, type CurveView, type DeviceUnitView } from '../device/device.mapper.js';
import { Installation } from '../field/field.entity.js';
import { toInstallation, type InstallationView } from '../field/field.mapper.js';
import { Instrument } from '../instrument/instrument.entity.js';
import { toInstrument, type InstrumentView } from '../instrument/instrument.mapper.js';
import { toJob } from '../job/job.mapper.js';
import type { SignatureView } from '../signature/signature.mapper.js';
import { approvalStateOf, signaturesOn } from '../signature/signature.resolver.js';
import { BatchService } from './batch.service.js';
import { CertificateBatch, CertificateRefusal, LightReference, ThresholdCertificate } from './certificate.entity.js';
import {
  toCertificate, toCertificateBatch, toCertificateRefusal, toLightReference, toTrial, type CertificateBatchView, type CertificateRefusalView, type CertificateView, type LightReferenceView,
} from './certificate.mapper.js';
import { certificatesNewest, lightReferencesNewest, standingsOfCertificates, type Standing } from './certificate.repository.js';
import { CertificateService } from './certificate.service.js';
import { LightService } from './light.service.js';

const instrumentOf = async (context: RequestContext, id: string | null): Promise<InstrumentView | null> => {
  const row = id === null ? null : await context.load.one(Instrument, id);
  return row && toInstrument(row);
};

/** Whether a certificate is valid now; in bulk for all of the request. */
const standingOf = (context: RequestContext, id: string): Promise<Standing> =>
  context.load.batch('certificateStanding', id, async (tx, ids) => {
    const rows = await Promise.all(ids.map((one) => context.load.one(ThresholdCertificate, one)));
    const standings = await standingsOfCertificates(tx, rows.map((row) => row!), context.now);
    return ids.map((one) => standings.get(one)!);
  });

@Resolver()
export class CertificateRootResolver {
  constructor(
    private readonly certificates: CertificateService,
    private readonly batches: BatchService,
    private readonly lights: LightService,
  ) {}

  @Query()
  async lightReferences(@Context() context: RequestContext): Promise<LightReferenceView[]> {
    return (await lightReferencesNewest(await context.read())).map(toLightReference);
  }

  @Query()
  async thresholdCertificate(@Args('id') id: string, @Context() context: RequestContext): Promise<CertificateView | null> {
    const row = await rowById(await context.read(), ThresholdCertificate, id);
    return row && toCertificate(row);
  }

  @Query()
  async thresholdCertificates(@Args('state') state: ApprovalState | undefined, @Context() context: RequestContext): Promise<CertificateView[]> {
    return (await certificatesNewest(await context.read(), state ?? null)).map(toCertificate);
  }

  @Query()
  async certificateBatch(@Args('id') id: string, @Context() context: RequestContext): Promise<CertificateBatchView | null> {
    const row = await rowById(await context.read(), CertificateBatch, id);
    return row && toCertificateBatch(row);
  }

  @Query()
  async certificateTrial(@Args('input') input: CertificateTrialInput, @Context() context: RequestContext): Promise<CertificateTrial> {
    const told = await settle(
      async () => {
        const { document, objections } = await this.certificates.trial(await context.read(), input);
        return { possible: document !== null, ...(document && toTrial(document, input.targetRwc)), objections };
      },
      { possible: false, objections: [] },
    );
    return told as unknown as CertificateTrial;
  }

  @Query()
  async guardBandTarget(@Args('input') input: GuardBandTargetInput, @Context() context: RequestContext): Promise<GuardBandTarget> {
    return (await settle(async () => this.certificates.guardBandTarget(await context.read(), input))) as unknown as GuardBandTarget;
  }

  @Mutation()
  recordLightReference(@Args('input') input: RecordLightReferenceInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.lights.record(tx, context.member, input));
      return { lightReference: toLightReference(row), replayed };
    });
  }

  @Mutation()
  issueCertificate(@Args('input') input: IssueCertificateInput, @Context() context: RequestContext): Promise<object> {
    return settle(
      async () => {
        const { row, replayed } = await context.write((tx) => this.certificates.issue(tx, context.member, input));
        return { certificate: toCertificate(row), replayed, objections: row.document.overrides };
      },
      { objections: [] },
    );
  }

  @Mutation()
  issueCertificates(@Args('input') input: IssueCertificatesInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { batch, job, replayed } = await context.write((tx) => this.batches.start(tx, context.member, input));
      return { batch: toCertificateBatch(batch), job: toJob(job), replayed };
    });
  }

  @Mutation()
  signCertificateBatch(@Args('input') input: SignCertificateBatchInput, @Context() context: RequestContext): Promise<object> {
    return settle(
      async () => {
        const { signed, left } = await context.write((tx) => this.batches.sign(tx, context.member, input));
        return { signed, left: left.map(({ certificate, message }) => ({ certificate: toCertificate(certificate), message })), replayed: false };
      },
      { signed: 0, left: [] },
    );
  }
}

@Resolver('LightReference')
export class LightReferenceResolver {
  @ResolveField()
  meter(@Parent() parent: LightReferenceView, @Context() context: RequestContext): Promise<InstrumentView | null> {
    return instrumentOf(context, parent.meterId);
  }

  @ResolveField()
  amendedBy(@Parent() parent: LightReferenceView, @Context() context: RequestContext): Promise<AmendmentView | null> {
    return amendmentOf(context, parent.id);
  }
}

@Resolver('CertificateBatch')
export class BatchResolver {
  @ResolveField()
  async job(@Parent() parent: CertificateBatchView, @Context() context: RequestContext): Promise<object | null> {
    const row = await jobById(await context.read(), parent.id);
    return row && toJob(row);
  }

  @ResolveField()
  async calibrationVersion(@Parent() parent: CertificateBatchView, @Context() context: RequestContext): Promise<CalibrationVersionView> {
    return toCalibrationVersion((await context.load.one(CalibrationVersion, parent.calibrationVersionId))!);
  }

  @ResolveField()
  async lightReference(@Parent() parent: CertificateBatchView, @Context() context: RequestContext): Promise<LightReferenceView> {
    return toLightReference((await context.load.one(LightReference, parent.lightReferenceId))!);
  }

  @ResolveField()
  async outcomes(@Parent() parent: CertificateBatchView, @Context() context: RequestContext): Promise<object[]> {
    const [certificates, refusals] = await Promise.all([
      context.load.many(ThresholdCertificate, 'certificateBatchId', parent.id), context.load.many(CertificateRefusal, 'certificateBatchId', parent.id),
    ]);
    return Promise.all(parent.deviceUnitIds.map(async (unitId): Promise<object> => {
      const certificate = certificates.find(({ deviceUnitId }) => deviceUnitId === unitId);
      const refusal = refusals.find(({ deviceUnitId }) => deviceUnitId === unitId);
      return {
        deviceUnit: toDeviceUnit((await context.load.one(DeviceUnit, unitId))!),
        certificate: certificate ? toCertificate(certificate) : null,
        refusal: refusal ? (toCertificateRefusal(refusal) satisfies CertificateRefusalView) : null,
      };
    }));
  }
}

@Resolver('ThresholdCertificate')
export class CertificateResolver {
  @ResolveField()
  state(@Parent() parent: CertificateView, @Context() context: RequestContext): Promise<ApprovalState> {
    return approvalStateOf(context, 'threshold_certificate', parent.id);
  }

  @ResolveField()
  async validity(@Parent() parent: CertificateView, @Context() context: RequestContext): Promise<CertificateValidity> {
    return (await standingOf(context, parent.id)).validity;
  }

  @ResolveField()
  async notValidBecause(@Parent() parent: CertificateView, @Context() context: RequestContext): Promise<string | null> {
    return (await standingOf(context, parent.id)).because;
  }

  @ResolveField()
  biasSource(@Parent() parent: CertificateView, @Context() context: RequestContext): Promise<InstrumentView | null> {
    return instrumentOf(context, parent.biasSourceId);
  }

  @ResolveField()
  async batch(@Parent() parent: CertificateView, @Context() context: RequestContext): Promise<CertificateBatchView | null> {
    const row = parent.certificateBatchId === null ? null : await context.load.one(CertificateBatch, parent.certificateBatchId);
    return row && toCertificateBatch(row);
  }

  @ResolveField()
  stale(@Parent() parent: CertificateView, @Context() context: RequestContext): Promise<boolean> {
    return isStale(context, parent.id);
  }

  @ResolveField()
  signatures(@Parent() parent: CertificateView, @Context() context: RequestContext): Promise<SignatureView[]> {
    return signaturesOn(context, parent.id);
  }

  @ResolveField()
  async deviceUnit(@Parent() parent: CertificateView, @Context() context: RequestContext): Promise<DeviceUnitView> {
    return toDeviceUnit((await context.load.one(DeviceUnit, parent.deviceUnitId))!);
  }

  @ResolveField()
  async calibrationVersion(@Parent() parent: CertificateView, @Context() context: RequestContext): Promise<CalibrationVersionView> {
    return toCalibrationVersion((await context.load.one(CalibrationVersion, parent.calibrationVersionId))!);
  }

  @ResolveField()
  async curve(@Parent() parent: CertificateView, @Context() context: RequestContext): Promise<CurveView> {
    return toCurve((await context.load.one(BiasThresholdCurve, parent.biasThresholdCurveId))!);
  }

  @ResolveField()
  async lightReference(@Parent() parent: CertificateView, @Context() context: RequestContext): Promise<LightReferenceView> {
    return toLightReference((await context.load.one(LightReference, parent.lightReferenceId))!);
  }

  @ResolveField()
  async installations(@Parent() parent: CertificateView, @Context() context: RequestContext): Promise<InstallationView[]> {
    return (await context.load.many(Installation, 'thresholdCertificateId', parent.id, 'id DESC')).map(toInstallation);
  }
}
