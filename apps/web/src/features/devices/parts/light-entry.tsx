import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import type { LightBasis, LightSpreadCause } from '../../../generated/graphql.js';
import { decimalText, EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { AreaField, ChoiceField, MomentField, NumberField, SegmentField, TextField } from '../../../ui/fields.js';
import { fractionOfPercent, fractionTextOfPercent } from '../../../ui/percent-text.js';
import { powerUnits } from '../../../ui/record-words.js';
import { usePayload } from '../../../ui/send.js';
import { localInput, momentFromInput } from '../../../ui/time.js';
import { MeterChoices, RecordLightReference } from '../documents.js';

const ways = [{ value: 'SERIES', label: 'Measured, a series' }, { value: 'MEASURED', label: 'Measured, one figure' }, { value: 'ASSUMED', label: 'Assumed' }];

const causeWords: Readonly<Record<LightSpreadCause, string>> = { HOUR: 'the hour', SEASON: 'the season', CLOUD: 'cloud', VAPOUR: 'vapour', TILT: 'tilt', METER: 'the meter', OTHER: 'another cause' };
export const spreadCauseWord = (cause: LightSpreadCause): string => causeWords[cause];

/** Minutes after midnight as a clock shows them. */
export const clockText = (minutes: number): string => `${String(Math.floor(minutes / 60)).padStart(2, '0')}:${String(minutes % 60).padStart(2, '0')}`;

/** "9:30" as minutes after midnight; null where nothing is written; NaN goes as −1, for the server to refuse at its field. */
export function minutesOfClock(text: string): number | null {
  if (text.trim() === '') return null;
  const match = /^(\d{1,2})[:.](\d{2})$/.exec(text.trim());
  return match ? Number(match[1]) * 60 + Number(match[2]) : -1;
}

export interface ReadSeries {
  readonly readings: readonly { readonly at: string; readonly powerText: string }[];
  readonly wrong: readonly { readonly line: number; readonly text: string }[];
}

/** Lines of a moment and a power, as a logger or a person writes them: `2026-06-03 12:05 4810` or RFC 3339 with its offset. A moment without offset is read on this computer's clock. */
export function readSeries(text: string): ReadSeries {
  const readings: { at: string; powerText: string }[] = [];
  const wrong: { line: number; text: string }[] = [];
  for (const [index, raw] of text.split(/\r?\n/).entries()) {
    const line = raw.trim();
    if (line === '' || (readings.length === 0 && wrong.length === 0 && /^[a-z]/i.test(line))) continue;
    const match = /^(\d{4}-\d{2}-\d{2})[T ](\d{2}:\d{2}(?::\d{2})?)(Z|[+-]\d{2}:\d{2})?[\s;,]+([\d.,]+(?:e[-+]?\d+)?)$/i.exec(line);
    if (!match) wrong.push({ line: index + 1, text: line });
    else {
      const [, day, clock, zone, power] = match;
      const full = clock!.length === 5 ? `${clock}:00` : clock!;
      readings.push({ at: zone ? `${day}T${full}${zone.toUpperCase()}` : momentFromInput(`${day}T${full}`), powerText: decimalText(power!) });
    }
  }
  return { readings, wrong };
}

const optionalDecimal = (text: string): string | null => (text.trim() === '' ? null : decimalText(text));

/** Parts of a stated spread: per cent and reason, one cause each, those that are filled in. */
const partCauses = ['HOUR', 'SEASON', 'CLOUD', 'VAPOUR', 'TILT'] as const;

export function LightEntry({ onRecorded }: { readonly onRecorded: () => void }) {
  const send = usePayload();
  const meters = useQuery(MeterChoices);
  const [initial] = useState(() => ({
    way: 'SERIES', label: '', site: '', powerText: '', powerUnit: 'nW', relativeSd: '', observedAt: localInput(new Date()), note: '', series: '', armedFrom: '', armedUntil: '', latitude: '', longitude: '',
    bandCentreNm: '', bandWidthNm: '', tiltDeg: '', diffuser: '', meterId: '', HOUR: '', SEASON: '', CLOUD: '', VAPOUR: '', TILT: '',
  }));
  const entry = useEntry({
    initial,
    send: (values, id) => {
      const { readings } = readSeries(values.series);
      const serial = values.way === 'SERIES';
      const parts = serial && daysOf(readings) > 1 ? [] : partCauses.flatMap((cause) => {
        const percent = fractionOfPercent(values[cause]);
        return Number.isFinite(percent) ? [{ cause, relativeSd: percent, reason: values.note.trim() || 'as estimated' }] : [];
      });
      return send(RecordLightReference, {
        input: {
          id, label: values.label.trim(), site: values.site.trim(), basis: (values.way === 'ASSUMED' ? 'ASSUMED' : 'MEASURED') as LightBasis, note: orNull(values.note), observedAt: momentFromInput(values.observedAt),
          powerUnit: values.powerUnit, powerText: serial ? null : orNull(values.powerText), relativeSd: values.relativeSd.trim() === '' ? null : fractionTextOfPercent(values.relativeSd),
          series: serial ? readings.map((reading) => ({ ...reading })) : null, spreadParts: parts.length > 0 ? parts : null,
          armedFromMin: minutesOfClock(values.armedFrom), armedUntilMin: minutesOfClock(values.armedUntil), latitude: optionalDecimal(values.latitude), longitude: optionalDecimal(values.longitude),
          bandCentreNm: optionalDecimal(values.bandCentreNm), bandWidthNm: optionalDecimal(values.bandWidthNm), tiltDeg: optionalDecimal(values.tiltDeg), diffuser: orNull(values.diffuser), meterId: orNull(values.meterId),
        },
      });
    },
    onRecorded,
  });
  const { way } = entry.values;
  const { readings, wrong } = readSeries(entry.values.series);
  const days = daysOf(readings);
  const stated = way !== 'SERIES' || days === 1;
  return (
    <EntryForm entry={entry} action="Record light reference" disabled={way === 'SERIES' && (readings.length === 0 || wrong.length > 0)}>
      <SegmentField {...entry.field('way')} label="Basis" choices={ways} wide />
      <TextField {...entry.field('label')} label="Label" hint="Place and hour, for example" />
      <TextField {...entry.field('site')} label="Site" />
      {way === 'SERIES' ? (
        <AreaField {...entry.field('series')} label="Readings without a leaf: moment and power" raw rows={6}
          hint={wrong.length > 0 ? `Line ${wrong[0]!.line} is not a moment and a power: ${wrong[0]!.text}` : readings.length > 0 ? `${readings.length} readings on ${days} ${days === 1 ? 'day: the spread must be stated below' : 'days'}.` : 'One a line, for example 2026-06-03 12:05 4810. A latch keeps the maximum: the brightest of each day counts.'} />
      ) : <NumberField {...entry.field('powerText')} label="Power in the band at the sensor’s plane" hint="Without a leaf" />}
      <ChoiceField {...entry.field('powerUnit')} label="Unit of power" choices={powerUnits} />
      {stated ? <NumberField {...entry.field('relativeSd')} label="Spread over the armed hours, % (1 SD)" hint="Or leave it empty and give its parts" optional /> : null}
      {stated ? partCauses.map((cause) => <NumberField key={cause} {...entry.field(cause)} label={`Part from ${causeWords[cause]}, % (1 SD)`} optional />) : null}
      <MomentField {...entry.field('observedAt')} label={way === 'ASSUMED' ? 'Assumed at' : way === 'SERIES' ? 'Last reading at' : 'Measured at'} />
      <TextField {...entry.field('armedFrom')} label="Armed from" hint="For example 10:30, by the clock of the place" optional />
      <TextField {...entry.field('armedUntil')} label="Armed until" optional />
      <NumberField {...entry.field('bandCentreNm')} label="Band, centre nm" optional />
      <NumberField {...entry.field('bandWidthNm')} label="Band, full width nm" optional />
      {way === 'ASSUMED' ? null : <ChoiceField {...entry.field('meterId')} label="Meter" choices={(meters.data?.instruments ?? []).map(({ id, label }) => ({ value: id, label }))} none="Not named" />}
      {way === 'ASSUMED' ? null : <TextField {...entry.field('diffuser')} label="Diffuser" optional />}
      <NumberField {...entry.field('tiltDeg')} label="Tilt, °" optional />
      <NumberField {...entry.field('latitude')} label="Latitude, ° north" optional />
      <NumberField {...entry.field('longitude')} label="Longitude, ° east" optional />
      <TextField {...entry.field('note')} label={way === 'ASSUMED' ? 'What the assumption rests on' : 'Note'} optional={way !== 'ASSUMED'} wide />
    </EntryForm>
  );
}

const daysOf = (readings: ReadSeries['readings']): number => new Set(readings.map(({ at }) => at.slice(0, 10))).size;
