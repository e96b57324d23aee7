import { DryingRate, LeafPopulation } from './leaf.js';

/** One crop of the simulated lab and the field plot it stands for. */
export interface CropScenario {
  readonly key: string;
  readonly name: string;
  readonly scientificName: string;
  readonly cultivar: string;
  readonly position: string;
  readonly growthStage: string;
  readonly population: LeafPopulation;
  readonly drying: DryingRate;
  readonly plants: number;
  /** Leaves per drying run, one run a day: `[4, 3]` is two runs of seven leaves. */
  readonly runs: readonly number[];
  /** How many leaves give a second disc, for masses only. */
  readonly extraDiscs: number;
  readonly targetRwc: number;
  readonly targetBasis: string;
  readonly site: string;
  readonly zone: string;
  readonly latitude: number;
  readonly longitude: number;
  /** In-band open-sky power at a unit's sensor plane at noon on a usual day, nW. */
  readonly noonPowerNw: number;
  /** Trips in the zone that ask for water. */
  readonly irrigateAtTrips: number;
  /** Midday RWC of the field on the day of installation, and its fall from day to day. */
  readonly fieldRwc: { readonly start: number; readonly fallPerDay: number; readonly middayDip: number; readonly leafSd: number };
}

export interface BalanceScenario {
  readonly resolutionMg: number;
  readonly repeatabilityMg: number;
  /** Water left on a blotted disc, SD relative to its turgid mass. */
  readonly blottingRelativeSd: number;
}

export interface RigScenario {
  readonly wavelengthNm: number;
  readonly bandWidthNm: number;
  readonly diffuserTransmittance: number;
  readonly uDiffuserTransmittance: number;
  /** Power without disc or diffuser at the start of a run, nW. */
  readonly lampPowerNw: number;
  /** Relative change of the lamp per hour, and its wander between references (SD). */
  readonly lampDriftPerHour: number;
  readonly lampWander: number;
  readonly darkNw: number;
  readonly meterNoiseNw: number;
  readonly meterRelativeNoise: number;
}

export interface DeviceScenario {
  readonly lots: readonly { readonly label: string; readonly units: number }[];
  /** Units that are certified and installed, in order, by crop key. */
  readonly installedPerCrop: number;
  readonly powerAtZeroBiasNw: { readonly mean: number; readonly relativeSd: number };
  readonly pullInV: { readonly mean: number; readonly relativeSd: number };
  readonly exponent: { readonly low: number; readonly high: number };
  /** Release voltage as a part of pull-in. */
  readonly releasePart: number;
  /** SD of ln P from trip to trip. */
  readonly tripScatter: number;
  /** Trip tests at these parts of the pull-in that the sweep showed, each repeated. */
  readonly testedParts: readonly number[];
  readonly repeats: number;
  readonly sweepStepV: number;
  readonly biasStepV: number;
  readonly biasSourceSdV: number;
  /** SD of ln pull-in between its tests and the field: charging, temperature, ageing. 0: it stays. */
  readonly fieldDriftSd: number;
}

export interface SkyScenario {
  /** SDs of ln power from day to day, within minutes, and from leaf to leaf (tilt). */
  readonly daySd: number;
  readonly flickerSd: number;
  readonly tiltSd: number;
  /** Half-width of the noon peak, hours. */
  readonly noonWidthH: number;
  readonly noonClock: number;
}

export interface Scenario {
  /** Last moment of the simulated lab, RFC 3339 with offset; nothing happens after it. */
  readonly endsAt: string;
  readonly crops: readonly CropScenario[];
  readonly balance: BalanceScenario;
  readonly rig: RigScenario;
  readonly devices: DeviceScenario;
  readonly sky: SkyScenario;
  readonly discDiameterMm: number;
  readonly rhythmMin: number;
  /** Cycles of weighing and reading in a drying run. */
  readonly cycles: number;
}

/**
 * The demo lab: grapevine and pepper, seven leaves each on four drying runs of three hours, eight units in two lots, six of
 * them installed. Cultivars, sites and people are invented; numbers are of the size the trade's notes give.
 *
 * @param endsAt the moment the demo ends, RFC 3339 with offset
 *
 * @example
 * demoScenario('2026-06-30T17:00:00+02:00').crops.map((crop) => crop.name) // => ['Grapevine', 'Pepper']
 */
export function demoScenario(endsAt: string): Scenario {
  return {
    endsAt,
    crops: [
      {
        key: 'grapevine', name: 'Grapevine', scientificName: 'Vitis vinifera', cultivar: 'Tarnwick Blue', position: 'fifth node from the tip',
        growthStage: 'berries pea-sized',
        population: { ewtTurgidUm: 168, ewtRelativeSd: 0.06, lmaGm2: 62, lmaRelativeSd: 0.07, structureN: 1.62, structureRelativeSd: 0.025 },
        drying: { openPerMin: 0.009, closedPerMin: 0.0036, closingMin: 22 },
        plants: 4, runs: [4, 3], extraDiscs: 2, targetRwc: 0.8, targetBasis: 'Invented for the demo: wilting observed by eye below 78 %.',
        site: 'Lower terrace', zone: 'V1', latitude: 46.2104, longitude: 7.1012, noonPowerNw: 5200, irrigateAtTrips: 2,
        fieldRwc: { start: 0.95, fallPerDay: 0.035, middayDip: 0.06, leafSd: 0.015 },
      },
      {
        key: 'pepper', name: 'Pepper', scientificName: 'Capsicum annuum', cultivar: 'Ossery Lantern', position: 'third leaf below the flower',
        growthStage: 'first fruit set',
        population: { ewtTurgidUm: 214, ewtRelativeSd: 0.06, lmaGm2: 44, lmaRelativeSd: 0.08, structureN: 1.44, structureRelativeSd: 0.025 },
        drying: { openPerMin: 0.012, closedPerMin: 0.0032, closingMin: 18 },
        plants: 4, runs: [4, 3], extraDiscs: 2, targetRwc: 0.82, targetBasis: 'Invented for the demo: growth slows below 82 %.',
        site: 'North beds', zone: 'P1', latitude: 46.2117, longitude: 7.1049, noonPowerNw: 6100, irrigateAtTrips: 2,
        fieldRwc: { start: 0.96, fallPerDay: 0.03, middayDip: 0.07, leafSd: 0.015 },
      },
    ],
    balance: { resolutionMg: 0.01, repeatabilityMg: 0.01, blottingRelativeSd: 0.003 },
    rig: {
      wavelengthNm: 1470, bandWidthNm: 12, diffuserTransmittance: 0.42, uDiffuserTransmittance: 0.002, lampPowerNw: 4000,
      lampDriftPerHour: -0.006, lampWander: 0.001, darkNw: 1.8, meterNoiseNw: 0.05, meterRelativeNoise: 0.002,
    },
    devices: {
      lots: [{ label: 'LOT-2611', units: 4 }, { label: 'LOT-2612', units: 4 }], installedPerCrop: 3,
      powerAtZeroBiasNw: { mean: 3900, relativeSd: 0.07 }, pullInV: { mean: 14, relativeSd: 0.04 }, exponent: { low: 2 / 3, high: 0.9 },
      releasePart: 0.6, tripScatter: 0.015, testedParts: [0, 0.35, 0.5, 0.62, 0.74, 0.86], repeats: 3, sweepStepV: 0.2, biasStepV: 0.01, biasSourceSdV: 0.003, fieldDriftSd: 0,
    },
    sky: { daySd: 0.05, flickerSd: 0.02, tiltSd: 0.03, noonWidthH: 3.1, noonClock: 13.2 },
    discDiameterMm: 18,
    rhythmMin: 5,
    cycles: 36,
  };
}

/**
 * The lab next door: olive alone, six leaves on two short drying runs, two units of which one is installed. It exists to share with the
 * demo lab and to take over from it.
 *
 * @param endsAt the moment the demo ends, RFC 3339 with offset
 *
 * @example
 * neighbourScenario('2026-06-30T17:00:00+02:00').crops.map((crop) => crop.name) // => ['Olive']
 */
export function neighbourScenario(endsAt: string): Scenario {
  const demo = demoScenario(endsAt);
  return {
    ...demo,
    crops: [{
      key: 'olive', name: 'Olive', scientificName: 'Olea europaea', cultivar: 'Brackwell Silver', position: 'third pair from the tip', growthStage: 'pit hardening',
      population: { ewtTurgidUm: 236, ewtRelativeSd: 0.06, lmaGm2: 182, lmaRelativeSd: 0.08, structureN: 1.9, structureRelativeSd: 0.03 },
      drying: { openPerMin: 0.008, closedPerMin: 0.0034, closingMin: 24 },
      plants: 3, runs: [3, 3], extraDiscs: 1, targetRwc: 0.78, targetBasis: 'Invented for the demo: fruit shrivels below 76 %.',
      site: 'Upper grove', zone: 'O1', latitude: 46.2141, longitude: 7.0988, noonPowerNw: 5600, irrigateAtTrips: 1,
      fieldRwc: { start: 0.94, fallPerDay: 0.03, middayDip: 0.06, leafSd: 0.015 },
    }],
    devices: { ...demo.devices, lots: [{ label: 'LOT-N1', units: 2 }], installedPerCrop: 1 },
    cycles: 22,
  };
}
