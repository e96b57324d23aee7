import { useMemo, useState } from 'react';
import { InputError, formatNumber } from '#libs/quantity';
import { inBandSunlight, skyShift, sunPosition, type Band, type Sky } from '#libs/sunlight';
import type { LightReferenceTableQuery } from '../../../generated/graphql.js';
import { decimalText } from '../../../ui/entry.js';
import { NumberField, TextField } from '../../../ui/fields.js';
import { Table } from '../../../ui/table.js';
import { Notice } from '../../../ui/words.js';
import fields from '../../../ui/entry.module.css';

type Light = LightReferenceTableQuery['lightReferences'][number];

interface Row { readonly what: string; readonly ratio: number; readonly points: number }

const columns = [
  { head: 'Beside the reference sky', cell: ({ what }: Row) => what },
  { head: 'Light', number: true, cell: ({ ratio }: Row) => (ratio > 0 ? `× ${formatNumber(ratio, 2)}` : 'none') },
  { head: 'The trip moves by', number: true, cell: ({ points }: Row) => (Number.isFinite(points) ? `${points >= 0 ? '+' : '−'}${formatNumber(Math.abs(points), 1)} points` : 'no trip') },
] as const;

const DAY_MS = 86_400_000;
const HOUR_MS = 3_600_000;

/** The clock of the sun at its highest on a day there. */
function solarNoon(day: number, latitude: number, longitude: number): number {
  const middle = day + (12 - longitude / 15) * HOUR_MS;
  let best = middle;
  for (let step = -40; step <= 40; step += 1) {
    const at = middle + step * 60_000;
    if (sunPosition(at, latitude, longitude).elevationDeg > sunPosition(best, latitude, longitude).elevationDeg) best = at;
  }
  return best;
}

interface Asked { readonly latitude: number; readonly longitude: number; readonly day: number; readonly band: Band; readonly slope: number; readonly vapourCm: number }

function rowsOf({ latitude, longitude, day, band, slope, vapourCm }: Asked): Row[] {
  const noon = solarNoon(day, latitude, longitude);
  const sky = (at: number, more: Partial<Sky> = {}): Sky => ({ sun: sunPosition(at, latitude, longitude), vapourCm, tiltDeg: 0, facingDeg: latitude >= 0 ? 180 : 0, cloudFactor: 1, ...more });
  const reference = inBandSunlight(band, sky(noon));
  const row = (what: string, light: number): Row => {
    const { ratio, rwcShift } = skyShift(light / reference, slope);
    return { what, ratio, points: 100 * rwcShift };
  };
  const toSun = sunPosition(noon, latitude, longitude).azimuthDeg;
  return [
    ...[1, 2, 3].map((hours) => row(`${hours} h from solar noon`, (inBandSunlight(band, sky(noon - hours * HOUR_MS)) + inBandSunlight(band, sky(noon + hours * HOUR_MS))) / 2)),
    row('30 days later, at noon', inBandSunlight(band, sky(solarNoon(day + 30 * DAY_MS, latitude, longitude)))),
    row('60 days later, at noon', inBandSunlight(band, sky(solarNoon(day + 60 * DAY_MS, latitude, longitude)))),
    ...[0.5, 2, 3].map((factor) => row(`vapour ${formatNumber(vapourCm * factor, 1)} cm instead of ${formatNumber(vapourCm, 1)} cm`, inBandSunlight(band, sky(noon, { vapourCm: vapourCm * factor })))),
    row('thin cloud that leaves 80 %', inBandSunlight(band, sky(noon, { cloudFactor: 0.8 }))),
    row('beside a bright cloud, 1.5 times', inBandSunlight(band, sky(noon, { cloudFactor: 1.5 }))),
    row('leaf tilted 20° towards the sun', inBandSunlight(band, sky(noon, { tiltDeg: 20, facingDeg: toSun }))),
    row('leaf tilted 20° away from it', inBandSunlight(band, sky(noon, { tiltDeg: 20, facingDeg: toSun + 180 }))),
  ];
}

/** What hour, season, vapour, cloud and tilt do to the trip, from published sunlight weighted over the band. Nothing of it is recorded. */
export function SkyHelper({ lights }: { readonly lights: readonly Light[] }) {
  const placed = lights.find(({ latitude, longitude }) => latitude && longitude);
  const banded = lights.find(({ bandCentreNm }) => bandCentreNm);
  const [values, setValues] = useState(() => ({
    latitude: placed?.latitude ?? '46', longitude: placed?.longitude ?? '7', day: new Date().toISOString().slice(0, 10), centreNm: banded?.bandCentreNm ?? '1470', widthNm: banded?.bandWidthNm ?? '20', slope: '1', vapourCm: '1.4',
  }));
  const bind = (name: keyof typeof values) => ({ name: `sky-${name}`, value: values[name], onChange: (value: string) => setValues((before) => ({ ...before, [name]: value })), problem: null, unmarked: true });
  const told = useMemo((): { rows: Row[] } | { wrong: string } => {
    const n = (text: string): number => Number(decimalText(text));
    const day = Date.parse(`${values.day}T00:00:00Z`);
    if (Number.isNaN(day)) return { wrong: 'Write the day as 2026-06-21.' };
    if (!(n(values.slope) > 0)) return { wrong: 'b must be above zero.' };
    try {
      return { rows: rowsOf({ latitude: n(values.latitude), longitude: n(values.longitude), day, band: { centreNm: n(values.centreNm), widthNm: n(values.widthNm) }, slope: n(values.slope), vapourCm: n(values.vapourCm) }) };
    } catch (error) {
      if (error instanceof InputError) return { wrong: error.message };
      throw error;
    }
  }, [values]);
  return (
    <>
      <div className={fields.fields}>
        <NumberField {...bind('latitude')} label="Latitude, ° north" />
        <NumberField {...bind('longitude')} label="Longitude, ° east" />
        <TextField {...bind('day')} label="Day" hint="For example 2026-06-21" />
        <NumberField {...bind('centreNm')} label="Band, centre nm" />
        <NumberField {...bind('widthNm')} label="Band, full width nm" />
        <NumberField {...bind('vapourCm')} label="Water vapour, cm" hint="0.7 dry, 1.4 usual, 3 to 5 humid" />
        <NumberField {...bind('slope')} label="b of the calibration" hint="−dlnT/dR at the target, on each certificate; 0.65 to 1.25 as a rule" />
      </div>
      <div aria-live="polite">
        {'wrong' in told ? <Notice tone="ask" title={told.wrong} /> : <Table caption="How each moves the trip" columns={columns} rows={told.rows} keyOf={({ what }) => what} />}
      </div>
      <p>Brighter trips wetter: R trip = R target + (1/b) · ln(E/E reference). Clear sky, the beam alone, on a horizontal leaf at solar noon as the reference. Sunlight of ASTM G173-03 weighted over the whole band, vapour after Bird and Riordan (1984), air mass after Kasten and Young (1989). It says how far the light moves, not how much there is: that is measured.</p>
    </>
  );
}
