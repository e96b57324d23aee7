import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import type { ApprovalState, IssueCertificateInput, RecordLightReferenceInput } from '../../generated/schema.js';
import { rowById } from '../../platform/database/rows.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { isStale } from '../amendment/amendment.resolver.js';
import { CalibrationVersion } from '../calibration/calibration.entity.js';
import { toCalibrationVersion, type CalibrationVersionView } from '../calibration/calibration.mapper.js';
import { BiasThresholdCurve, DeviceUnit } from '../device/device.entity.js';
import { toCurve, toDeviceUnit, type CurveView, type DeviceUnitView } from '../device/device.mapper.js';
import { Installation } from '../field/field.entity.js';
import { toInstallation, type InstallationView } from '../field/field.mapper.js';
import type { SignatureView } from '../signature/signature.mapper.js';
import { approvalStateOf, signaturesOn } from '../signature/signature.resolver.js';
import { LightReference, ThresholdCertificate } from './certificate.entity.js';
import { toCertificate, toLightReference, type CertificateView, type LightReferenceView } from './certificate.mapper.js';
import { certificatesNewest, lightReferencesNewest } from './certificate.repository.js';
import { CertificateService } from './certificate.service.js';

@Resolver()
export class CertificateRootResolver {
  constructor(private readonly certificates: CertificateService) {}

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

  @Mutation()
  recordLightReference(@Args('input') input: RecordLightReferenceInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.certificates.recordLightReference(tx, context.member, input));
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
}

@Resolver('ThresholdCertificate')
export class CertificateResolver {
  @ResolveField()
  state(@Parent() parent: CertificateView, @Context() context: RequestContext): Promise<ApprovalState> {
    return approvalStateOf(context, 'threshold_certificate', parent.id);
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
