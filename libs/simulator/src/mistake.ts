import type { LabEvent, WeighingAmendmentEvent, WeighingEvent } from './events.js';
import type { Calendar } from './moment.js';

/** Key of the weighing that was mistyped, and of the one that takes its place. */
export interface Mistake {
  readonly weighingKey: string;
  readonly amendedByKey: string;
}

/** The first weighing from the ninth cycle on whose units and tenths can be swapped into a mass that is low, but not absurd. */
function mistypable(events: readonly LabEvent[], discKey: string): WeighingEvent | undefined {
  return events.filter((e): e is WeighingEvent => e.kind === 'weighing' && e.discKey === discKey && e.state === 'drying').slice(8, -1).find(({ massText }) => {
    const [, units, point, tenths] = massText;
    const lower = Number(units) - Number(tenths);
    return point === '.' && lower >= 2 && lower <= 6;
  });
}

/** Lets one weighing of a disc be typed with swapped digits and amended within the minute, before the disc is weighed again. */
export function withMistake(events: readonly LabEvent[], discKey: string, calendar: Calendar): { readonly events: readonly LabEvent[]; readonly mistake: Mistake | null } {
  const right = mistypable(events, discKey);
  if (right === undefined) return { events, mistake: null };
  const [tens, units, , tenths, ...rest] = right.massText;
  const massText = `${tens}${tenths}.${units}${rest.join('')}`;
  const wrong: WeighingEvent = { ...right, massText, entry: 'typed', rawLine: massText };
  const amendment: WeighingAmendmentEvent = {
    ...right, kind: 'weighing-amendment', key: `${right.key}/again`, at: calendar.text(Date.parse(right.at) + 25_000),
    amendmentKey: `amendment/${right.key}`, amendsKey: right.key, reasonCode: 'misread',
    reason: `Digits swapped while typing ${massText} mg; the balance's own line gives ${right.massText} mg.`,
  };
  return {
    events: [...events.map((event) => (event === right ? wrong : event)), amendment],
    mistake: { weighingKey: right.key, amendedByKey: amendment.key },
  };
}
