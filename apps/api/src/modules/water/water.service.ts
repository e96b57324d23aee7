import { Injectable } from '@nestjs/common';
import { constantMass, rwcAtReadings, rwcSeries, type BalanceTerms, type TimedMass } from '#libs/leaf-water';
import { transmittanceRun, type TimedPower } from '#libs/optics';
import { convertDecimal, formatPercentPlain, InputError, type Unit } from '#libs/quantity';
import type { Flag } from '../../generated/schema.js';
import { codeVersion } from '../../platform/config/code-version.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById, rowsByIds } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { formatMoment } from '../../platform/graphql/moment.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Use, type Written } from '../../platform/ledger/recorder.js';
import { holdFactsStill } from '../amendment/amendment.repository.js';
import type { MeterReading, Weighing } from '../bench/bench.entity.js';
import { DryingRun } from '../bench/bench.entity.js';
import { standingMeterReadings, standingWeighings } from '../bench/bench.repository.js';
import { Instrument, Rig } from '../instrument/instrument.entity.js';
import { constantMassRuleOf, handlingOf, type Parameters } from '../protocol/protocol-parameters.js';
import { parametersOf } from '../protocol/protocol.repository.js';
import { Disc } from '../sample/sample.entity.js';
import { balanceFromDecimals, balanceTerms, uWeighingMg } from './handling.js';
import type { RwcDocument } from './rwc-document.js';
import { RwcSeries } from './rwc-series.entity.js';

/** RWC from which on a reading counts as taken at turgor. Common practice, no source. */
const TURGID_FROM_RWC = 0.95;

interface Evidence {
  readonly turgid: Weighing;
  readonly dry: Weighing;
  readonly drying: readonly Weighing[];
  readonly checks: readonly Weighing[];
}

/** Computes relative water content from standing weighings, and pairs it with the optical readings of the run. */
@Injectable()
export class WaterService {
  constructor(private readonly recorder: Recorder) {}

  /**
   * Computes and keeps the RWC series of one disc.
   *
   * @throws ProblemError `STATE` while turgid or dry mass is missing, InputError where no RWC exists
   */
  async compute(tx: Tx, actor: Actor, order: { id: string; discId: string; dryingRunId: string | null }): Promise<Written<RwcSeries>> {
    return this.recorder.record(tx, actor, RwcSeries, { id: order.id, discId: order.discId }, async () => {
      await holdFactsStill(tx);
      const disc = await rowById(tx, Disc, order.discId);
      if (!disc) throw notFound('discId', 'The disc');
      const { dryingRunId, document, uses } = await rwcFrom(tx, disc, {
        weighings: await standingWeighings(tx, disc.id),
        dryingRunId: order.dryingRunId,
        readingsOf: (run) => standingMeterReadings(tx, run),
      });
      return { derived: { codeVersion, dryingRunId, document }, uses, action: 'compute' };
    });
  }
}

/** What an RWC series is computed from. */
export interface RwcFacts {
  /** Of the disc, in order of time. */
  readonly weighings: readonly Weighing[];
  /** Null: the run that the drying weighings name. */
  readonly dryingRunId: string | null;
  /** Meter readings of a run, in order of time. */
  readonly readingsOf: (dryingRunId: string) => Promise<MeterReading[]>;
}

/** The RWC series that follows from these facts, and what it used of them: the same now and whenever it is recomputed. */
export async function rwcFrom(tx: Tx, disc: Disc, facts: RwcFacts): Promise<{ dryingRunId: string | null; document: RwcDocument; uses: Use[] }> {
  const evidence = evidenceOf(disc.label, facts.weighings);
  const dryingRunId = facts.dryingRunId ?? evidence.drying.find((weighing) => weighing.dryingRunId)?.dryingRunId ?? null;
  const run = dryingRunId ? await rowById(tx, DryingRun, dryingRunId) : null;
  const parameters = await parametersOf(tx, run?.protocolId ?? null);
  const masses = await timedMasses(tx, evidence, parameters);
  const water = waterOf(evidence, masses);
  const light = run ? await lightOf(tx, run, await facts.readingsOf(run.id), disc, masses) : NO_LIGHT;
  const document: RwcDocument = {
    ...water,
    readings: light.readings,
    readingCovariance: light.readingCovariance,
    turgidTransmittance: light.readings.find(({ rwc }) => rwc >= TURGID_FROM_RWC)?.transmittance ?? null,
    flags: [...dryMassFlags(evidence, masses, parameters), ...rwcFlags(water.points, parameters), ...light.flags],
  };
  return { dryingRunId, document, uses: [...usesOf(disc.id, evidence), ...(run?.protocolId ? [{ kind: 'protocol', id: run.protocolId, role: 'by' }] : []), ...light.uses] };
}

function evidenceOf(discLabel: string, weighings: readonly Weighing[]): Evidence {
  const turgid = weighings.filter(({ state }) => state === 'TURGID').at(-1);
  const checks = weighings.filter(({ state }) => state === 'DRY');
  const dry = checks.at(-1);
  if (!turgid || !dry) {
    throw new ProblemError('STATE', 'discId', `Disc ${discLabel} has no ${turgid ? 'dry' : 'turgid'} mass yet.`, 'Weigh it in that state first.');
  }
  const drying = weighings.filter(({ state }) => state === 'FRESH' || state === 'DRYING');
  if (drying.length === 0) {
    throw new ProblemError('STATE', 'discId', `Disc ${discLabel} has no fresh or drying weighing.`, 'Weigh it at least once between turgid and dry.');
  }
  return { turgid, dry, drying, checks };
}

interface Masses {
  readonly balance: BalanceTerms;
  readonly turgid: TimedMass;
  readonly dry: TimedMass;
  readonly drying: readonly TimedMass[];
}

/** A moment by the server's clock: what the device's was behind is added, so that two devices at one bench agree. */
const serverMs = ({ observedAt, clockOffsetMs }: { readonly observedAt: Date; readonly clockOffsetMs: number | null }): number => observedAt.getTime() + (clockOffsetMs ?? 0);

/** Masses with their uncertainties, by the balance each was weighed on. */
async function timedMasses(tx: Tx, { turgid, dry, drying }: Evidence, parameters: Parameters): Promise<Masses> {
  const handling = handlingOf(parameters);
  const all = [turgid, dry, ...drying];
  const balances = await rowsByIds(tx, Instrument, [...new Set(all.flatMap(({ balanceId }) => balanceId ?? []))]);
  const terms = new Map(balances.map((balance) => [balance.id, balanceTerms(balance)]));
  const unknown = balanceFromDecimals(all.map(({ massText }) => massText), turgid.massUnit as Unit);
  const termsOf = (weighing: Weighing): BalanceTerms => (weighing.balanceId ? terms.get(weighing.balanceId)! : unknown);
  const timed = (weighing: Weighing): TimedMass => {
    const massMg = Number(weighing.massMg);
    return { massMg, uMassMg: uWeighingMg(termsOf(weighing), weighing.state, massMg, handling), atMs: serverMs(weighing) };
  };
  return { balance: termsOf(dry), turgid: timed(turgid), dry: timed(dry), drying: drying.map(timed) };
}

type Water = Pick<RwcDocument, 'turgidMassMg' | 'dryMassMg' | 'uTurgidMassMg' | 'uDryMassMg' | 'points'>;

function waterOf({ drying }: Evidence, masses: Masses): Water {
  const series = rwcSeries({
    turgidMassMg: masses.turgid.massMg,
    dryMassMg: masses.dry.massMg,
    uTurgidMg: masses.turgid.uMassMg,
    uDryMg: masses.dry.uMassMg,
    points: masses.drying.map(({ massMg, uMassMg }) => ({ freshMassMg: massMg, uFreshMg: uMassMg })),
  });
  return {
    turgidMassMg: masses.turgid.massMg,
    dryMassMg: masses.dry.massMg,
    uTurgidMassMg: masses.turgid.uMassMg,
    uDryMassMg: masses.dry.uMassMg,
    points: drying.map((weighing, i) => ({
      weighingId: weighing.id,
      at: formatMoment(weighing.observedAt, weighing.observedOffsetMin),
      massMg: masses.drying[i]!.massMg,
      rwc: series.rwc[i]!,
      u: series.u[i]!,
      uCommon: series.uCommon[i]!,
    })),
  };
}

/** A balance must not be trusted to have seen the end of drying unless its check weighings show it. */
function dryMassFlags({ checks }: Evidence, { balance }: Masses, parameters: Parameters): Flag[] {
  const verdict = constantMass({
    checks: checks.map(({ massMg, observedAt }) => ({ massMg: Number(massMg), atMs: observedAt.getTime() })),
    resolutionMg: balance.resolutionMg,
    rule: constantMassRuleOf(parameters),
  });
  return verdict.constant ? [] : [{ code: 'CONSTANT_MASS_NOT_SHOWN', severity: 'WARN', message: `Constant mass is not shown. ${verdict.message}` }];
}

function rwcFlags(points: Water['points'], { rwcWarn, rwcAsk, rwcLeast }: Parameters): Flag[] {
  return points
    .filter(({ rwc }) => rwc > rwcWarn || rwc < rwcLeast)
    .map(({ rwc, at }): Flag => ({
      code: rwc > rwcWarn ? 'RWC_ABOVE_ONE' : 'RWC_BELOW_ZERO',
      severity: rwc > rwcAsk || rwc < rwcLeast ? 'ASK' : 'WARN',
      message: `RWC is ${formatPercentPlain(rwc, 1)} at ${at.slice(11, 16)} on ${at.slice(0, 10)}: check hydration, blotting and that it is the same disc.`,
    }));
}

interface Light extends Pick<RwcDocument, 'readings' | 'readingCovariance' | 'flags'> {
  readonly uses: readonly Use[];
}

const NO_LIGHT: Light = { readings: [], readingCovariance: [], flags: [], uses: [] };

const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;

/** RWC and transmittance at each reading that lies between weighings and between references. */
async function lightOf(tx: Tx, run: DryingRun, all: readonly MeterReading[], disc: Disc, masses: Masses): Promise<Light> {
  const readings = all.filter(({ lightPath, discId }) => lightPath === 'READING' && discId === disc.id);
  if (readings.length === 0) return NO_LIGHT;
  const darks = all.filter(({ lightPath }) => lightPath === 'DARK');
  const references = all.filter(({ lightPath }) => lightPath === 'REFERENCE');
  if (darks.length === 0) throw new ProblemError('STATE', 'dryingRunId', 'The run has readings but no dark.', 'Record the power with the light shut.');
  const rig = (await rowById(tx, Rig, run.rigId))!;
  const uMeterNw = uMeter((await rowById(tx, Instrument, rig.meterId))!);
  const timed = (reading: MeterReading): TimedPower => ({ powerNw: Number(reading.powerNw), uPowerNw: uMeterNw, atMs: serverMs(reading) });

  const weighings = inOrder([{ ...masses.turgid, isTurgidMass: true }, ...masses.drying]);
  const between = (atMs: number, times: readonly number[]): boolean => atMs >= Math.min(...times) && atMs <= Math.max(...times);
  const weighedTimes = weighings.map(({ atMs }) => atMs);
  const referenceTimes = references.map(serverMs);
  const usable = readings.filter((reading) => between(serverMs(reading), weighedTimes) && between(serverMs(reading), referenceTimes));
  const outside: Flag[] = readings.length === usable.length ? [] : [{
    code: 'READING_OUTSIDE',
    severity: 'WARN',
    message: `${readings.length - usable.length} of ${readings.length} readings of disc ${disc.label} lie outside its weighings or outside the references: left out, nothing is extrapolated.`,
  }];
  if (usable.length === 0) return { ...NO_LIGHT, flags: outside };

  const water = rwcAtReadings({
    weighings,
    turgidMassMg: masses.turgid.massMg,
    uTurgidMg: masses.turgid.uMassMg,
    dryMassMg: masses.dry.massMg,
    uDryMg: masses.dry.uMassMg,
    readingsAtMs: usable.map(serverMs),
  });
  const darkPowers = darks.map(({ powerNw }) => Number(powerNw));
  const optics = transmittanceRun(
    {
      references: references.map(timed),
      dark: { powerNw: mean(darkPowers), uPowerNw: uMeterNw / Math.sqrt(darkPowers.length) },
      tauReference: Number(rig.diffuserTransmittance ?? 1),
      uTauReference: Number(rig.uDiffuserTransmittance ?? 0),
    },
    usable.map(timed),
  );
  return {
    readings: usable.map((reading, i) => {
      return {
        meterReadingId: reading.id,
        at: formatMoment(reading.observedAt, reading.observedOffsetMin),
        massMg: water.masses[i]!.massMg,
        rwc: water.rwc[i]!,
        uRwc: water.u[i]!,
        uRwcCommon: water.uCommon[i]!,
        transmittance: optics.readings[i]!.transmittance,
        uTransmittance: optics.readings[i]!.u,
      };
    }),
    readingCovariance: water.covariance,
    flags: [...outside, ...opticalFlags(optics.readings.flatMap(({ flags }) => flags))],
    uses: [
      ...usable.map(({ id }): Use => ({ kind: 'meter_reading', id, role: 'reading' })),
      ...references.map(({ id }): Use => ({ kind: 'meter_reading', id, role: 'reference' })),
      ...darks.map(({ id }): Use => ({ kind: 'meter_reading', id, role: 'dark' })),
      { kind: 'drying_run', id: run.id, role: 'in' },
    ],
  };
}

/** Standard uncertainty of one reading of the meter, nW: its step as a rectangle, and its repeatability. */
function uMeter(meter: Instrument): number {
  const inNw = (text: string): number => Number(convertDecimal(text, meter.unit as Unit, 'nW'));
  if (meter.resolution === null) {
    throw new InputError('MISSING', 'rig.meter.resolution', `of ${meter.label} is not known`, 'Register the meter with its resolution.');
  }
  return Math.hypot(inNw(meter.resolution) / Math.sqrt(12), meter.repeatability === null ? 0 : inNw(meter.repeatability));
}

/** In order of time; of two at the same moment the first is kept, so that a mass has one value at a time. */
function inOrder(masses: readonly TimedMass[]): TimedMass[] {
  return [...masses].sort((a, b) => a.atMs - b.atMs).filter((mass, i, all) => i === 0 || mass.atMs > all[i - 1]!.atMs);
}

/** Each kind of remark once, with how often it came. */
function opticalFlags(flags: readonly { readonly code: string; readonly severity: 'ask' | 'warn'; readonly message: string }[]): Flag[] {
  return [...new Set(flags.map(({ code }) => code))].map((code) => {
    const same = flags.filter((flag) => flag.code === code);
    return {
      code,
      severity: same[0]!.severity === 'ask' ? 'ASK' : 'WARN',
      message: same.length === 1 ? same[0]!.message : `${same.length} readings: ${same[0]!.message}`,
    };
  });
}

function usesOf(discId: string, { turgid, drying, checks }: Evidence): Use[] {
  return [
    { kind: 'disc', id: discId, role: 'of' },
    { kind: 'weighing', id: turgid.id, role: 'turgid mass' },
    ...drying.map(({ id }): Use => ({ kind: 'weighing', id, role: 'drying mass' })),
    ...checks.map(({ id }, i): Use => ({ kind: 'weighing', id, role: i === checks.length - 1 ? 'dry mass' : 'dry mass check' })),
  ];
}
