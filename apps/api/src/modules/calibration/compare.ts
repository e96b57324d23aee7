import {
  compareFamilies, families, fitLeaves, leafEffectsOf, leafIntervalAt, leaveOneLeafOut, refitLeaves, responseAt,
  type Candidate, type Comparison, type FamilyName, type LeafEffect, type LeafFitOptions,
} from '#libs/regression';
import { InputError } from '#libs/quantity';
import type { CalibrationFamily, LeafEffects } from '../../generated/schema.js';
import { familyName, fitPoints, middleOf } from './compute.js';
import { readNear } from './study.js';
import type { ComparisonDocument, ComparisonRow, LeafInfluence, StudyInput, StudyPoint } from './study-document.js';

type Progress = (fraction: number, sentence?: string) => void;

const EFFECTS: readonly { readonly effect: LeafEffect; readonly told: LeafEffects; readonly words: string }[] = [
  { effect: 'intercept', told: 'HEIGHT', words: 'leaves differ in height' },
  { effect: 'independent-intercept-and-slope', told: 'HEIGHT_AND_SLOPE_APART', words: 'in height and slope, independent' },
  { effect: 'intercept-and-slope', told: 'HEIGHT_AND_SLOPE', words: 'in height and slope' },
];
/** Every family with every structure that it lets leaves differ by. */
const WITH_LEAVES = (Object.keys(familyName) as CalibrationFamily[]).flatMap((family) =>
  EFFECTS.filter(({ effect }) => leafEffectsOf(familyName[family]).includes(effect)).map((structure) => ({ family, structure })));

/**
 * Families and leaf-effect structures side by side, and what each leaf does to the result. Takes seconds to minutes with many
 * leaves: every candidate is fitted once for each leaf left out.
 */
export function compareCalibrations(input: StudyInput, progress: Progress): ComparisonDocument {
  const used = input.points.filter((point) => point.used);
  const steps = candidatesOf(used).length + WITH_LEAVES.length + 1;
  let step = 0;
  const next = (what: string): void => progress(step++ / steps, what);
  const curves = candidatesOf(used).flatMap((candidate) => {
    next(`${nameOf(candidate)}, each leaf left out`);
    return compareFamilies(used.map(asPoint), [candidate]).map(rowOfCurve);
  });
  const withLeaves = WITH_LEAVES.map(({ family, structure }) => {
    next(`${families[familyName[family]].name}, ${structure.words}, each leaf left out`);
    return rowWithLeaves(family, structure, used);
  });
  // All likelihoods are of the readings as transmittances: one common ground for curves, scales and leaf effects.
  const best = Math.min(...[...curves, ...withLeaves].map(({ aicc }) => aicc ?? Infinity));
  next('Leaving out each leaf in turn');
  return {
    rows: [...withLeaves, ...curves].map(({ aicc, ...row }) => ({ ...row, deltaAicc: aicc === null ? null : aicc - best })),
    influence: influenceOf(input, used),
  };
}

const asPoint = (point: StudyPoint) => ({
  rwc: point.rwc, transmittance: point.transmittance, leafId: point.leafId, ...(point.turgidTransmittance === null ? {} : { turgidTransmittance: point.turgidTransmittance }),
});

function candidatesOf(used: readonly StudyPoint[]): Candidate[] {
  const plain = (Object.keys(families) as FamilyName[]).map((family): Candidate => ({ family }));
  // Dividing by the leaf's own turgid transmittance takes leaf structure out: possible where every leaf was read turgid.
  const normalised = used.every(({ turgidTransmittance }) => turgidTransmittance !== null);
  return normalised ? [...plain, { family: 'log-linear', options: { response: 'turgid-ratio' } }, { family: 'linear', options: { response: 'turgid-ratio' } }] : plain;
}

const familyOf = (name: FamilyName): CalibrationFamily | null =>
  (Object.entries(familyName) as [CalibrationFamily, FamilyName][]).find(([, own]) => own === name)?.[0] ?? null;

const isPerTurgid = ({ options }: Candidate): boolean => options?.response === 'turgid-ratio';
const nameOf = (candidate: Candidate): string => `${candidate.family}${isPerTurgid(candidate) ? ', over the leaf’s turgid transmittance' : ', all readings alike'}`;

type Row = Omit<ComparisonRow, 'deltaAicc'> & { readonly aicc: number | null };

function rowOfCurve(row: Comparison): Row {
  const perTurgid = isPerTurgid(row.candidate);
  const what = nameOf(row.candidate);
  const family = perTurgid ? null : familyOf(row.candidate.family);
  if (row.kind === 'refused') return { what, family, leafEffects: null, perTurgid, aicc: null, leaveOneLeafOutPoints: null, biasPoints: null, lackOfFitP: null, monotonic: row.code !== 'NOT_MONOTONIC', remark: row.sentence };
  const { fit, leaveOneLeafOut: left } = row;
  return {
    what, family, leafEffects: null, perTurgid, aicc: fit.convergence.converged ? fit.aicc : null,
    leaveOneLeafOutPoints: 'reason' in left ? null : left.rmseRwcPoints,
    biasPoints: 'reason' in left ? null : left.biasRwcPoints,
    lackOfFitP: fit.lackOfFit.kind === 'tested' ? fit.lackOfFit.pValue : null,
    monotonic: true,
    remark: 'reason' in left ? left.reason : left.pointsWithoutAnswer > 0 ? `${left.pointsWithoutAnswer} readings have no RWC on the curve of the other leaves.` : fit.convergence.converged ? null : 'The search found no rest.',
  };
}

/** By ML, whose likelihoods compare structures; on ln T as a likelihood of T itself, so that both scales compare. */
function rowWithLeaves(family: CalibrationFamily, { effect, told, words }: (typeof EFFECTS)[number], used: readonly StudyPoint[]): Row {
  // Independent effects are independent at one water content only: the middle of the readings.
  const options: LeafFitOptions = { method: 'REML', leafEffect: effect, ...(effect === 'independent-intercept-and-slope' ? { originRwc: middleOf(used) } : {}) };
  const readings = used.map(({ leafId, rwc, transmittance }) => ({ leafId, rwc, transmittance }));
  const row = { what: `${families[familyName[family]].name}, ${words}`, family, leafEffects: told, perTurgid: false, lackOfFitP: null, monotonic: true };
  try {
    const { fit, options: { responseScale } } = fitLeaves(familyName[family], readings, { ...options, method: 'ML' });
    const jacobian = responseScale === 'ln-transmittance' ? -used.reduce((sum, { transmittance }) => sum + Math.log(transmittance), 0) : 0;
    const [n, k] = [fit.observationCount, fit.parameterCount];
    const aicc = n - k - 1 > 0 ? -2 * (fit.logLikelihood + jacobian) + 2 * k + (2 * k * (k + 1)) / (n - k - 1) : null;
    const whole = fitLeaves(familyName[family], readings, options);
    const left = leaveOneLeafOut(readings, (rest) => refitLeaves(whole, rest));
    const unread = left.readingsWithoutAnswer > 0 ? `${left.readingsWithoutAnswer} readings have no RWC on the curve of the other leaves.` : null;
    return { ...row, aicc: fit.convergence.converged ? aicc : null, leaveOneLeafOutPoints: left.rmsPoints, biasPoints: left.biasPoints, remark: fit.convergence.converged ? (fit.notes[0] ?? unread) : 'The search found no rest.' };
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    return { ...row, aicc: null, leaveOneLeafOutPoints: null, biasPoints: null, remark: error.message };
  }
}

/** The chosen line without each leaf: where it then puts the RWC that the whole line puts at the target. */
function influenceOf(input: StudyInput, used: readonly StudyPoint[]): LeafInfluence[] {
  const leaves = [...new Map(used.map(({ leafId, leafLabel }) => [leafId, leafLabel]))];
  const points = used.map((point) => ({ ...point, residual: null }));
  const whole = fitPoints(input.family, points, input.leafEffects);
  if (whole.kind === 'curve' || leaves.length < 4) return [];
  const target = responseAt(whole.line, input.atRwc);
  return leaves.map(([leafId, leaf]) => {
    const without = refitLeaves(whole.line, points.filter((point) => point.leafId !== leafId));
    const rwc = readNear(without, target, input.atRwc);
    return { leaf, shiftPoints: 100 * (rwc - input.atRwc), newLeafHalfWidthPoints: leafIntervalAt(without, 'prediction', input.atRwc, { level: input.level }).halfWidthPoints };
  }).sort((a, b) => Math.abs(b.shiftPoints) - Math.abs(a.shiftPoints));
}
