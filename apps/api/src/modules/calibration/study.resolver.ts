import { Args, Context, Mutation, Query, Resolver } from '@nestjs/graphql';
import type { CalibrationStudyInput } from '../../generated/schema.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { toJob } from '../job/job.mapper.js';
import { Rig } from '../instrument/instrument.entity.js';
import { toRig } from '../instrument/instrument.mapper.js';
import { candidateChoices } from './calibration.repository.js';
import { StudyService } from './study.service.js';
import type { StudyDocument, StudyInput } from './study-document.js';

function toStudy(input: StudyInput, { residuals, inOrder, lackOfFit, advice, ...study }: StudyDocument): object {
  const none = { within: null, around: null, cooksDistance: null, flags: [] };
  const { shares, plan } = advice;
  return {
    ...study,
    atRwc: input.atRwc,
    points: input.points.map(({ leafLabel, ...point }, i) => ({ ...point, leaf: leafLabel, ...(residuals[i] ?? none) })),
    durbinWatson: inOrder?.durbinWatson ?? null,
    orderPValue: inOrder?.slopePValue ?? null,
    lackOfFitPValue: 'pValue' in lackOfFit ? lackOfFit.pValue : null,
    lackOfFitReason: 'reason' in lackOfFit ? lackOfFit.reason : null,
    advice: {
      ...advice,
      betweenLeavesShare: shares.betweenLeaves,
      readingShare: shares.reading,
      meanLineShare: shares.meanLine,
      floorPoints: plan?.floorPoints ?? null,
      byLeaves: plan?.byLeaves ?? null,
      byReadings: plan?.byReadings ?? null,
    },
  };
}

@Resolver()
export class StudyResolver {
  constructor(private readonly studies: StudyService) {}

  @Query()
  calibrationStudy(@Args('input') input: CalibrationStudyInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { input: known, study } = await this.studies.study(await context.read(), input);
      return { study: toStudy(known, study) };
    });
  }

  @Query('candidateChoices')
  async choices(@Args('cropId') cropId: string, @Context() context: RequestContext): Promise<object> {
    const { rigIds, ...choices } = await candidateChoices(await context.read(), cropId);
    const rigs = await Promise.all(rigIds.map((id) => context.load.one(Rig, id)));
    return { ...choices, rigs: rigs.map((rig) => toRig(rig!)) };
  }

  @Mutation()
  compareCalibrations(@Args('id') id: string, @Args('input') input: CalibrationStudyInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => ({ job: toJob(await context.write((tx) => this.studies.compare(tx, context.member, id, input))), replayed: false }));
  }
}
