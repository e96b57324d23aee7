import { Injectable } from '@nestjs/common';
import { InputError, parseDecimal, requirePositive } from '#libs/quantity';
import { lightReferenceFromDays } from '#libs/switch-device';
import type { RecordLightReferenceInput } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { optionalText, requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Written } from '../../platform/ledger/recorder.js';
import { readPower } from '../bench/bench.service.js';
import { LightReference } from './certificate.entity.js';

/** Readings of one series; more is a mistake in the file. */
const MOST_READINGS = 20_000;

interface Reading {
  readonly at: string;
  readonly powerText: string;
  readonly powerUnit: string;
  readonly powerNw: number;
}

const optionalDecimal = (field: string, text: string | null | undefined): string | null => (text ? parseDecimal(text, { field }).decimal : null);

/** The light that a certificate rests on: measured over days, or assumed with its reason. */
@Injectable()
export class LightService {
  constructor(private readonly recorder: Recorder) {}

  /**
   * A series gives power and spread by the brightest reading of each day within the armed hours, because a latch keeps the
   * maximum; a stated power needs a stated spread, or the parts it is made of.
   */
  record(tx: Tx, actor: Actor, input: RecordLightReferenceInput): Promise<Written<LightReference>> {
    const { at, offsetMin } = parseMoment('observedAt', input.observedAt);
    const unit = input.powerUnit ?? 'nW';
    const stated = input.powerText ? readPower('powerText', input.powerText, 'powerUnit', unit) : null;
    if (stated) requirePositive('powerText', Number(stated.powerNw));
    const statedSd = input.relativeSd ? parseDecimal(input.relativeSd, { field: 'relativeSd' }) : null;
    const given = {
      id: input.id,
      label: requireText('label', input.label),
      site: requireText('site', input.site),
      observedAt: at,
      observedOffsetMin: offsetMin,
      ...(stated && { powerText: stated.text, powerUnit: stated.unit, powerNw: stated.powerNw }),
      ...(statedSd && { relativeSd: statedSd.decimal }),
      basis: input.basis,
      note: optionalText(input.note),
      series: input.series?.map(({ at: moment, powerText }) => ({ at: moment, powerText: powerText.trim(), powerUnit: unit })) ?? null,
      armedFromMin: input.armedFromMin ?? null,
      armedUntilMin: input.armedUntilMin ?? null,
      latitude: optionalDecimal('latitude', input.latitude),
      longitude: optionalDecimal('longitude', input.longitude),
      bandCentreNm: optionalDecimal('bandCentreNm', input.bandCentreNm),
      bandWidthNm: optionalDecimal('bandWidthNm', input.bandWidthNm),
      tiltDeg: optionalDecimal('tiltDeg', input.tiltDeg),
      diffuser: optionalText(input.diffuser),
      meterId: input.meterId ?? null,
      spreadParts: input.spreadParts?.map(({ cause, relativeSd, reason }) => ({ cause, relativeSd, reason: reason.trim() })) ?? null,
    };
    return this.recorder.record(tx, actor, LightReference, given, () => {
      requirePlace(input);
      requireSpread(statedSd?.value ?? null, given.spreadParts);
      if (input.basis === 'ASSUMED') {
        if (given.series) throw new InputError('NOT_WANTED', 'series', 'is given for an assumed power', 'A series was measured: say so, or leave it out.');
        if (!given.note) throw new InputError('MISSING', 'note', 'is missing for an assumed power', 'Say what the assumption rests on.');
      }
      return {
        derived: given.series ? fromSeries(given.series, input, statedSd?.decimal ?? null) : fromStated(stated !== null, statedSd?.decimal ?? null, given.spreadParts),
        uses: input.meterId ? [{ kind: 'instrument', id: input.meterId, role: 'measured with' }] : [],
      };
    });
  }
}

function requirePlace({ armedFromMin, armedUntilMin, latitude, longitude, tiltDeg, bandCentreNm, bandWidthNm }: RecordLightReferenceInput): void {
  if ((armedFromMin == null) !== (armedUntilMin == null)) throw new InputError('MISSING', armedFromMin == null ? 'armedFromMin' : 'armedUntilMin', 'is missing', 'Give both ends of the armed hours, or neither.');
  if (armedFromMin != null && armedUntilMin != null && !(armedFromMin >= 0 && armedFromMin < armedUntilMin && armedUntilMin <= 1440)) {
    throw new InputError('OUT_OF_RANGE', 'armedUntilMin', 'does not come after the beginning', 'Give minutes after midnight, the end after the beginning.');
  }
  const within = (field: string, text: string | null | undefined, most: number, least = -most): void => {
    if (text && !(Number(text) >= least && Number(text) <= most)) throw new InputError('OUT_OF_RANGE', field, `is ${text}`, `Give degrees from ${least} to ${most}.`);
  };
  within('latitude', latitude, 90);
  within('longitude', longitude, 180);
  within('tiltDeg', tiltDeg, 90, 0);
  if (Boolean(bandCentreNm) !== Boolean(bandWidthNm)) throw new InputError('MISSING', bandCentreNm ? 'bandWidthNm' : 'bandCentreNm', 'is missing', 'Give centre and full width of the band, or neither.');
  if (bandCentreNm) requirePositive('bandCentreNm', Number(bandCentreNm));
  if (bandWidthNm) requirePositive('bandWidthNm', Number(bandWidthNm));
}

function requireSpread(stated: number | null, parts: LightReference['spreadParts']): void {
  const fraction = (field: string, value: number): void => {
    if (!(value >= 0 && value <= 1)) throw new InputError('OUT_OF_RANGE', field, `is ${value}`, 'Give the spread as a fraction: 0.1 for ten per cent.');
  };
  if (stated !== null) fraction('relativeSd', stated);
  parts?.forEach(({ relativeSd, reason }, i) => {
    fraction(`spreadParts[${i}].relativeSd`, relativeSd);
    if (!reason) throw new InputError('MISSING', `spreadParts[${i}].reason`, 'is empty', 'Say what this part of the spread rests on.');
  });
  if (stated !== null && parts) throw new InputError('NOT_WANTED', 'relativeSd', 'is given beside its parts', 'Give the spread or its parts; the server adds the parts up.');
}

/** A spread to a thousandth of a per cent, in the canonical spelling of a decimal. */
const sdText = (sd: number): string => String(Number(sd.toFixed(5)));

function fromStated(hasPower: boolean, relativeSd: string | null, parts: LightReference['spreadParts']): Partial<LightReference> {
  if (!hasPower) throw new InputError('MISSING', 'powerText', 'is missing', 'Give the power, or the series it was measured as.');
  if (relativeSd !== null) return {};
  if (!parts || parts.length === 0) throw new InputError('MISSING', 'relativeSd', 'is missing', 'Give the spread, or the parts it is made of.');
  return { relativeSd: sdText(Math.hypot(...parts.map((part) => part.relativeSd))) };
}

/** The brightest reading of each day of the place's own clock, within the armed hours. */
export function brightestByDay(readings: readonly Reading[], armed: { readonly armedFromMin?: number | null; readonly armedUntilMin?: number | null }): Reading[] {
  const byDay = new Map<string, Reading>();
  for (const reading of readings) {
    const clock = Number(reading.at.slice(11, 13)) * 60 + Number(reading.at.slice(14, 16));
    if (armed.armedFromMin != null && (clock < armed.armedFromMin || clock > armed.armedUntilMin!)) continue;
    const day = reading.at.slice(0, 10);
    const before = byDay.get(day);
    if (!before || reading.powerNw > before.powerNw) byDay.set(day, reading);
  }
  return [...byDay.values()].sort((a, b) => (a.at < b.at ? -1 : 1));
}

export const readingsOf = (series: NonNullable<LightReference['series']>): Reading[] =>
  series.map((reading, i) => ({ ...reading, powerNw: Number(readPower(`series[${i}].powerText`, reading.powerText, 'powerUnit', reading.powerUnit).powerNw) }));

function fromSeries(series: NonNullable<LightReference['series']>, input: RecordLightReferenceInput, statedSd: string | null): Partial<LightReference> {
  if (input.powerText) throw new InputError('NOT_WANTED', 'powerText', 'is given beside a series', 'The server computes the power from the series.');
  if (series.length === 0 || series.length > MOST_READINGS) throw new InputError('COUNT', 'series', `has ${series.length} readings`, `Give 1 to ${MOST_READINGS}.`);
  series.forEach(({ at }, i) => parseMoment(`series[${i}].at`, at));
  const readings = readingsOf(series);
  readings.forEach(({ powerNw }, i) => requirePositive(`series[${i}].powerText`, powerNw));
  const days = brightestByDay(readings, input);
  if (days.length === 0) throw new InputError('NONE_ARMED', 'series', 'has no reading within the armed hours', 'Measure within them, or widen them.');
  if (days.length === 1) {
    if (!statedSd && !input.spreadParts?.length) {
      throw new InputError('MISSING', 'relativeSd', 'cannot be told from one day', 'Measure on two days or more, or state the spread or its parts with their reasons.');
    }
    return { ...powerOf(days[0]!.powerNw), days: 1, ...(statedSd ? {} : { relativeSd: sdText(Math.hypot(...input.spreadParts!.map((part) => part.relativeSd))) }) };
  }
  if (statedSd || input.spreadParts) throw new InputError('NOT_WANTED', 'relativeSd', 'is given beside a series of several days', 'The server computes the spread between the days.');
  const told = lightReferenceFromDays(days.map(({ powerNw }) => powerNw));
  return { ...powerOf(told.powerNw), days: told.days, relativeSd: sdText(told.relativeSd) };
}

const powerOf = (powerNw: number): Pick<LightReference, 'powerText' | 'powerUnit' | 'powerNw'> => {
  const text = String(Number(powerNw.toPrecision(5)));
  return { powerText: text, powerUnit: 'nW', powerNw: text };
};
