import type { RandomStream } from '#libs/numeric';
import type { SkyScenario } from './scenario.js';

/** Clear-sky shape of the in-band power over a day, 1 at noon; clock in hours. */
export function dayShape(sky: SkyScenario, clock: number): number {
  return Math.exp(-0.5 * ((clock - sky.noonClock) / sky.noonWidthH) ** 2);
}

/** One day's brightness beside the usual day, one draw. */
export function drawDay(sky: SkyScenario, stream: RandomStream): number {
  return Math.exp(sky.daySd * stream.normal());
}

/** Brightness of a moment beside its day, one draw. */
export function drawFlicker(sky: SkyScenario, stream: RandomStream): number {
  return Math.exp(sky.flickerSd * stream.normal());
}

/** The five-minute steps of a day at which light is looked at, as clock hours from nine to five. */
export function daySteps(): readonly number[] {
  return Array.from({ length: 97 }, (_, i) => 9 + i / 12);
}
