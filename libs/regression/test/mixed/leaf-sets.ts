import { createStream } from '#libs/numeric';
import type { LeafReading } from '#libs/regression';

/** Leaves whose lines ln T = −0.9 + a − (1 + c)·RWC differ by normal a and c, read with normal noise, from a seeded stream. */
export interface LeafSetSpec {
  readonly leaves: number;
  readonly readings: number;
  readonly betweenSd: number;
  readonly slopeSd: number;
  readonly withinSd: number;
}

export const TRUE_INTERCEPT = -0.9;
export const TRUE_SLOPE = -1;

export function simulateLeaves(spec: LeafSetSpec, stream: ReturnType<typeof createStream>): LeafReading[] {
  return Array.from({ length: spec.leaves }, (_, leaf) => {
    const a = spec.betweenSd * stream.normal();
    const c = spec.slopeSd * stream.normal();
    return Array.from({ length: spec.readings }, (__, k): LeafReading => {
      const rwc = 1 - (0.55 * k) / (spec.readings - 1);
      const response = TRUE_INTERCEPT + a + (TRUE_SLOPE + c) * rwc + spec.withinSd * stream.normal();
      return { leafId: `L${leaf + 1}`, rwc, transmittance: Math.exp(response) };
    });
  }).flat();
}
