import { compensatedSum } from '#libs/numeric';
import { InputError, requireFinite, requirePositive } from '#libs/quantity';

export interface TemperatureStep {
  readonly temperatureC: number;
  /** nW, above zero. */
  readonly tripPowerNw: number;
}

export interface ThermalDrift {
  /** dlnP_th/dT, 1/K. */
  readonly perK: number;
  /** Standard error of that slope; with two degrees of freedom or fewer, little is known. */
  readonly standardError: number;
  readonly degreesOfFreedom: number;
}

/**
 * How the trip power at one bias moves with temperature: least-squares line of ln P in °C.
 *
 * @param steps at least three, at two temperatures or more
 * @returns relative change a kelvin with its standard error
 * @throws InputError `TOO_FEW_STEPS`, `ONE_TEMPERATURE`, `NOT_POSITIVE`, `NOT_FINITE`
 *
 * Symmetric legs cancel ambient bending to first order only; gradients and self-heating in broadband sun are not in it.
 *
 * @example
 * const steps = [0, 20, 40].map((temperatureC) => ({ temperatureC, tripPowerNw: 100 * Math.exp(0.002 * temperatureC) }));
 * thermalDrift(steps).perK.toFixed(4) // => '0.0020'
 */
export function thermalDrift(steps: readonly TemperatureStep[]): ThermalDrift {
  if (steps.length < 3) {
    throw new InputError('TOO_FEW_STEPS', 'steps', `expected at least 3, got ${steps.length}`, 'Test at three temperatures or more.');
  }
  const t = steps.map((step, i) => requireFinite(`steps[${i}].temperatureC`, step.temperatureC));
  const y = steps.map((step, i) => Math.log(requirePositive(`steps[${i}].tripPowerNw`, step.tripPowerNw)));
  const n = steps.length;
  const [tMean, yMean] = [compensatedSum(t) / n, compensatedSum(y) / n];
  const spread = compensatedSum(t.map((value) => (value - tMean) ** 2));
  if (spread === 0) throw new InputError('ONE_TEMPERATURE', 'steps', 'were all made at one temperature', 'Test at another temperature too.');
  const perK = compensatedSum(t.map((value, i) => (value - tMean) * (y[i]! - yMean))) / spread;
  const residuals = compensatedSum(t.map((value, i) => (y[i]! - yMean - perK * (value - tMean)) ** 2));
  const degreesOfFreedom = n - 2;
  return { perK, standardError: Math.sqrt(residuals / degreesOfFreedom / spread), degreesOfFreedom };
}
