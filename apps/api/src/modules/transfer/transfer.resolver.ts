import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import type { AdjustCalibrationInput, StudyTransferInput, StudyWaterThicknessInput } from '../../generated/schema.js';
import { rowById } from '../../platform/database/rows.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { isStale } from '../amendment/amendment.resolver.js';
import { CalibrationVersion } from '../calibration/calibration.entity.js';
import { toCalibrationVersion, type CalibrationVersionView } from '../calibration/calibration.mapper.js';
import { Crop } from '../sample/sample.entity.js';
import { toCrop, type CropView } from '../sample/sample.mapper.js';
import { TransferStudy } from './transfer.entity.js';
import { toTransferStudy, type TransferStudyView } from './transfer.mapper.js';
import { adjustedBy, transferStudiesOf } from './transfer.repository.js';
import { TransferService } from './transfer.service.js';

@Resolver()
export class TransferResolver {
  constructor(private readonly service: TransferService) {}

  @Query()
  async transferStudies(@Args('calibrationVersionId') calibrationVersionId: string | undefined, @Context() context: RequestContext): Promise<TransferStudyView[]> {
    return (await transferStudiesOf(await context.read(), calibrationVersionId ?? null)).map(toTransferStudy);
  }

  @Query()
  async transferStudy(@Args('id') id: string, @Context() context: RequestContext): Promise<TransferStudyView | null> {
    const row = await rowById(await context.read(), TransferStudy, id);
    return row && toTransferStudy(row);
  }

  @Mutation()
  studyTransfer(@Args('input') input: StudyTransferInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.service.studyReadings(tx, context.member, input));
      return { transferStudy: toTransferStudy(row), replayed };
    });
  }

  @Mutation()
  studyWaterThickness(@Args('input') input: StudyWaterThicknessInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.service.studyThickness(tx, context.member, input));
      return { transferStudy: toTransferStudy(row), replayed };
    });
  }

  @Mutation()
  adjustCalibration(@Args('input') input: AdjustCalibrationInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.service.adjust(tx, context.member, input));
      return { calibrationVersion: toCalibrationVersion(row), replayed };
    });
  }
}

@Resolver('TransferStudy')
export class TransferStudyResolver {
  @ResolveField()
  async crop(@Parent() parent: TransferStudyView, @Context() context: RequestContext): Promise<CropView> {
    return toCrop((await context.load.one(Crop, parent.cropId))!);
  }

  @ResolveField()
  stale(@Parent() parent: TransferStudyView, @Context() context: RequestContext): Promise<boolean> {
    return isStale(context, parent.id);
  }

  @ResolveField()
  async adjusted(@Parent() parent: TransferStudyView, @Context() context: RequestContext): Promise<CalibrationVersionView[]> {
    const ids = await context.load.batch('adjusted by study', parent.id, async (tx, studyIds) => {
      const found = await adjustedBy(tx, studyIds);
      return studyIds.map((studyId) => found.filter((one) => one.studyId === studyId).map(({ versionId }) => versionId));
    });
    const rows = await Promise.all(ids.map((id) => context.load.one(CalibrationVersion, id)));
    return rows.map((row) => toCalibrationVersion(row!));
  }
}

@Resolver('CalibrationVersion')
export class AdjustedVersionResolver {
  @ResolveField()
  adjustedFrom(@Parent() { document }: CalibrationVersionView): object[] {
    const from = document.adjustedFrom;
    return from ? [{ kind: 'transfer_study', id: from.studyId, label: `transfer study of ${from.label}` }, { kind: from.kind, id: from.id, label: from.label }] : [];
  }

  @ResolveField()
  besideLeafCount(@Parent() { document }: CalibrationVersionView): number {
    return new Set(document.points.filter(({ used, besideId }) => used && besideId !== undefined).map(({ leafId }) => leafId)).size;
  }
}
