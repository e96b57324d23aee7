import { signed, type Describers } from '../thread/describer.js';

export const protocolDescribers: Describers = {
  protocol: {
    label: "'protocol ' || r.name || ' version ' || r.version",
    summary: `'discs of ' || (r.parameters->>'discDiameterMm') || ' mm, every ' || (r.parameters->>'rhythmMin') || ' min, oven ' || (r.parameters->>'ovenTemperatureC') || ' °C' || coalesce('; changed because: ' || r.changed_because, '') || ${signed('protocol')}`,
  },
};
