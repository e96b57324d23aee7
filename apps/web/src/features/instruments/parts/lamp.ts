import { controlLimits, mean } from '#libs/numeric';

export interface LampReading {
  readonly lightPath: 'DARK' | 'REFERENCE' | 'READING';
  readonly observedAt: string;
  readonly powerNw: string;
  readonly dryingRun: { readonly id: string; readonly label: string };
}

export interface LampPoint {
  readonly label: string;
  readonly value: number;
  readonly outside: boolean;
}

export interface LampChart {
  readonly points: readonly LampPoint[];
  /** Null while fewer than three runs tell. */
  readonly limits: { readonly centre: number; readonly low: number; readonly high: number } | null;
}

/** One value a run, the mean of its darks or references, in order of time: drift within a run is that run's own affair. */
export function lampChart(readings: readonly LampReading[], lightPath: 'DARK' | 'REFERENCE'): LampChart {
  const runs = new Map<string, { label: string; values: number[] }>();
  for (const { dryingRun, powerNw } of readings.filter((each) => each.lightPath === lightPath).sort((a, b) => Date.parse(a.observedAt) - Date.parse(b.observedAt))) {
    const run = runs.get(dryingRun.id) ?? { label: dryingRun.label, values: [] };
    run.values.push(Number(powerNw));
    runs.set(dryingRun.id, run);
  }
  const values = [...runs.values()].map(({ label, values: own }) => ({ label, value: mean(own) }));
  if (values.length < 3) return { points: values.map((each) => ({ ...each, outside: false })), limits: null };
  const { centre, low, high, outside } = controlLimits(values.map(({ value }) => value));
  return { points: values.map((each, i) => ({ ...each, outside: outside.includes(i) })), limits: { centre, low, high } };
}
