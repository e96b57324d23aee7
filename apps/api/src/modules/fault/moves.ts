import { thresholdPower } from '#libs/switch-device';
import { families } from '#libs/regression';
import type { CalibrationFamily } from '../../generated/schema.js';
import type { CalibrationDocument } from '../calibration/calibration-document.js';
import type { CalibrationVersion } from '../calibration/calibration.entity.js';
import { familyName } from '../calibration/compute.js';
import type { CertificateDocument } from '../certificate/certificate-document.js';
import type { ThresholdCertificate } from '../certificate/certificate.entity.js';
import type { CurveDocument } from '../device/curve-document.js';
import { inferRwc } from '../field/infer.js';
import type { RwcDocument } from '../water/rwc-document.js';

/** The same thing three times: as the facts stand, without those in question, and with them corrected. Null where it is not to be had. */
export interface Thrice<T> {
  readonly then: T;
  readonly without: T | null;
  /** Undefined where no correction was asked for. */
  readonly corrected: T | null | undefined;
}

/** One number of a result that a person goes by, as it moves. */
export interface MovedValue extends Thrice<number | null> {
  readonly name: string;
  /** UCUM; 1 for fractions. */
  readonly unit: string;
}

const each = <T, R>({ then, without, corrected }: Thrice<T>, what: (one: T) => R | null): Thrice<R | null> => ({
  then: what(then),
  without: without === null ? null : what(without),
  corrected: corrected === undefined ? undefined : corrected === null ? null : what(corrected),
});

const valueOf = <T>(name: string, unit: string, docs: Thrice<T>, what: (one: T) => number | null | undefined): MovedValue =>
  ({ name, unit, ...each(docs, (one) => what(one) ?? null) });

/** How far a value moves: with the correction where it is known, else without the facts. */
function distanceOf({ then, without, corrected }: Thrice<number | null>): number {
  const now = corrected ?? without;
  return then === null || now === null ? 0 : Math.abs(now - then);
}

const furthest = (values: readonly MovedValue[]): MovedValue[] =>
  values.length === 0 ? [] : [values.reduce((most, value) => (distanceOf(value) > distanceOf(most) ? value : most))];

export function seriesMoves(docs: Thrice<RwcDocument>): MovedValue[] {
  const points = docs.then.points.map(({ weighingId, at }) =>
    valueOf(`RWC at ${at.slice(11, 16)} on ${at.slice(0, 10)}, which moves most`, '1', docs, ({ points: all }) => all.find((point) => point.weighingId === weighingId)?.rwc));
  return [
    ...furthest(points),
    valueOf('turgid mass', 'mg', docs, ({ turgidMassMg }) => turgidMassMg),
    valueOf('dry mass', 'mg', docs, ({ dryMassMg }) => dryMassMg),
    valueOf('number of drying masses', '1', docs, ({ points: all }) => all.length),
  ];
}

const parametersOf = ({ parameters }: CalibrationDocument): number[] => parameters.map(({ value }) => value);

const rwcOf = (family: CalibrationFamily, document: CalibrationDocument, transmittance: number): number | null =>
  families[familyName[family]].inverse(parametersOf(document), transmittance);

export function calibrationMoves(family: CalibrationFamily, docs: Thrice<CalibrationDocument>): MovedValue[] {
  const readBack = docs.then.curve.map(({ transmittance }) =>
    valueOf(`RWC read back from transmittance ${transmittance.toPrecision(3)}, which moves most`, '1', docs, (document) => rwcOf(family, document, transmittance)));
  return [
    ...furthest(readBack),
    ...docs.then.parameters.map(({ name }, i) => valueOf(`parameter ${name}`, '1', docs, (document) => document.parameters[i]?.value)),
    valueOf('number of readings', '1', docs, ({ points }) => points.filter(({ used }) => used).length),
    valueOf('number of leaves', '1', docs, ({ leafCount }) => leafCount),
  ];
}

export const curveMoves = (docs: Thrice<CurveDocument>): MovedValue[] => [
  valueOf('power at zero bias', 'nW', docs, ({ p0Nw }) => p0Nw),
  valueOf('pull-in voltage', 'V', docs, ({ pullInV }) => pullInV),
  valueOf('exponent', '1', docs, ({ exponent }) => exponent),
];

export const certificateMoves = (docs: Thrice<CertificateDocument>): MovedValue[] => [
  valueOf('threshold power', 'nW', docs, ({ thresholdPowerNw }) => thresholdPowerNw),
  valueOf('bias', 'V', docs, ({ biasV }) => biasV),
  valueOf('trip-RWC interval, lower end', '1', docs, ({ tripRwcLow }) => tripRwcLow),
  valueOf('trip-RWC interval, upper end', '1', docs, ({ tripRwcHigh }) => tripRwcHigh),
];

/** What an installed unit's trip RWC follows from: the bias it got stays, the calibration and the unit's curve may move. */
export interface TripBasis {
  readonly certificate: ThresholdCertificate;
  readonly calibration: CalibrationVersion;
  readonly calibrationDocs: Thrice<CalibrationDocument>;
  readonly curveDocs: Thrice<CurveDocument>;
  readonly lightPowerNw: number;
}

const bothOf = <A, B>(a: Thrice<A>, b: Thrice<B>): Thrice<readonly [A, B]> => {
  const pair = (one: A | null | undefined, other: B | null | undefined): readonly [A, B] | null => (one && other ? [one, other] : null);
  return { then: [a.then, b.then], without: pair(a.without, b.without), corrected: a.corrected === undefined || b.corrected === undefined ? undefined : pair(a.corrected, b.corrected) };
};

function powerAt({ p0Nw, pullInV, exponent }: CurveDocument, biasV: number): number | null {
  return biasV >= 0 && biasV < pullInV ? thresholdPower({ powerAtZeroBiasNw: p0Nw, pullInV, exponent }, biasV) : null;
}

/** RWC at which the bias given really trips, in the light of the certificate's reference. */
export const tripRwcMove = (name: string, basis: TripBasis, biasV: number): MovedValue =>
  valueOf(name, '1', bothOf(basis.calibrationDocs, basis.curveDocs), ([calibration, curve]) => {
    const powerNw = powerAt(curve, biasV);
    return powerNw === null ? null : rwcOf(basis.calibration.family, calibration, powerNw / basis.lightPowerNw);
  });

/** RWC inferred for a trip that happened in known light: the threshold power that was set moves only with the unit's curve. */
export function inferredMove(name: string, basis: TripBasis, lightPowerNw: number): MovedValue {
  const { certificate, calibration } = basis;
  const { biasV, thresholdPowerNw } = certificate.document;
  const powerThen = powerAt(basis.curveDocs.then, biasV);
  return valueOf(name, '1', bothOf(basis.calibrationDocs, basis.curveDocs), ([document, curve]) => {
    const powerNow = powerAt(curve, biasV);
    if (powerThen === null || powerNow === null) return null;
    const moved = { ...certificate, document: { ...certificate.document, thresholdPowerNw: (thresholdPowerNw * powerNow) / powerThen } };
    return inferRwc(moved, { ...calibration, document }, lightPowerNw)?.rwc ?? null;
  });
}
