import { Args, Context, Query, Resolver } from '@nestjs/graphql';
import { InputError } from '#libs/quantity';
import { summariseGroups, type GroupsSummary } from '#libs/regression';
import { rowsByIds } from '../../platform/database/rows.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { Calibration, CalibrationVersion } from '../calibration/calibration.entity.js';
import { toCalibrationVersion } from '../calibration/calibration.mapper.js';
import { Crop } from '../sample/sample.entity.js';
import { toCrop } from '../sample/sample.mapper.js';
import { versionOfEachCrop } from './transfer.repository.js';

type Summary = GroupsSummary | null;

/** Paule-Mandel, which needs no search that might not come to rest. */
const summaryOf = (groups: readonly { readonly label: string; readonly estimate: number; readonly standardError: number }[]): Summary =>
  (groups.length < 2 ? null : summariseGroups(groups, { tauMethod: 'PM' }));

const told = (summary: Summary, back: (value: number) => number): object | null => summary && {
  mean: back(summary.mean), low: back(summary.interval.lower), high: back(summary.interval.upper),
  nextLow: summary.predictionInterval ? back(summary.predictionInterval.lower) : null, nextHigh: summary.predictionInterval ? back(summary.predictionInterval.upper) : null,
  tau: summary.tau, iSquared: summary.iSquared, sentence: summary.sentence,
};

@Resolver()
export class AcrossCropsResolver {
  @Query()
  async acrossCrops(@Args('atRwc') atRwc: number, @Context() context: RequestContext): Promise<object> {
    if (!(atRwc > 0 && atRwc <= 1.2)) throw new InputError('OUT_OF_RANGE', 'atRwc', 'is no RWC', 'Give a fraction, such as 0.8.');
    const tx = await context.read();
    const chosen = await versionOfEachCrop(tx);
    const versions = new Map((await rowsByIds(tx, CalibrationVersion, chosen.map(({ versionId }) => versionId))).map((row) => [row.id, row]));
    const calibrations = new Map((await rowsByIds(tx, Calibration, [...versions.values()].map(({ calibrationId }) => calibrationId))).map((row) => [row.id, row]));
    const crops = new Map((await rowsByIds(tx, Crop, chosen.map(({ cropId }) => cropId))).map((row) => [row.id, row]));
    const rows = chosen.map(({ cropId, versionId }) => {
      const version = versions.get(versionId)!;
      const { parameters: [a, c], covariance } = version.document;
      const variance = covariance[0]![0]! + 2 * atRwc * covariance[0]![1]! + atRwc ** 2 * covariance[1]![1]!;
      return {
        crop: crops.get(cropId)!, version, label: `${calibrations.get(version.calibrationId)!.label} version ${version.version}`,
        slope: c!.value, slopeStandardError: c!.standardError, ln: a!.value + c!.value * atRwc, lnStandardError: Math.sqrt(variance),
      };
    }).sort((one, other) => (one.crop.name < other.crop.name ? -1 : 1));
    const slope = summaryOf(rows.map((row) => ({ label: row.crop.id, estimate: row.slope, standardError: row.slopeStandardError })));
    const ln = summaryOf(rows.map((row) => ({ label: row.crop.id, estimate: row.ln, standardError: row.lnStandardError })));
    return {
      atRwc,
      crops: rows.map((row, i) => ({ ...row, crop: toCrop(row.crop), version: toCalibrationVersion(row.version), transmittance: Math.exp(row.ln), weight: slope?.weights[i]?.share ?? 1 })),
      slope: told(slope, (value) => value),
      transmittance: told(ln, Math.exp),
    };
  }
}
