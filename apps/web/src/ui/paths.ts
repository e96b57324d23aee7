/** Where a record of this kind is shown; the thread shows every kind that has no screen of its own. */
const screenOf: Readonly<Record<string, (id: string) => string>> = {
  hydration: (id) => `/bench/water#${id}`,
  drying_run: (id) => `/bench/${id}`,
  protocol: (id) => `/lab/protocols/${id}`,
  disc: (id) => `/samples/disc/${id}`,
  leaf: (id) => `/samples/leaf/${id}`,
  plant: (id) => `/samples/plant/${id}`,
  place: (id) => `/samples/place/${id}`,
  rwc_series: (id) => `/samples/series/${id}`,
  oven_cycle: (id) => `/ovens/${id}`,
  rig: (id) => `/instruments/rig/${id}`,
  instrument: (id) => `/instruments/${id}`,
  calibration: (id) => `/calibrations/${id}`,
  calibration_version: (id) => `/calibrations/version/${id}`,
  shared_calibration: (id) => `/calibrations/shared/${id}`,
  transfer_study: (id) => `/calibrations/transfer/${id}`,
  device_unit: (id) => `/devices/${id}`,
  threshold_certificate: (id) => `/devices/certificate/${id}`,
  installation: (id) => `/field/${id}`,
  trip: (id) => `/field/trip/${id}`,
  decision: (id) => `/field/decision/${id}`,
  zone_rule: (id) => `/field/rule/${id}`,
};

/** The contract writes kinds in one style; be deaf to its case ("dryingRun", "DRYING_RUN", "drying_run"). */
const plainKind = (kind: string): string => (/[a-z]/.test(kind) ? kind.replace(/(?<=[a-z0-9])[A-Z]/g, (letter) => `_${letter}`) : kind).toLowerCase();

/** The thread of a record: down to what it rests on, or up to what it touches. */
export const threadPath = (kind: string, id: string, direction: 'up' | 'down' = 'down'): string => `/thread/${kind}/${id}?direction=${direction}`;

/** The screen where a record is shown and acted on. */
export function recordPath(kind: string, id: string): string {
  return screenOf[plainKind(kind)]?.(id) ?? threadPath(kind, id, 'up');
}
