import type { Describers } from '../thread/describer.js';

export const lineDescribers: Describers = {
  line_format: {
    label: "'line format of ' || instrument.label",
    summary: 'r.pattern',
    joins: 'JOIN instrument ON instrument.lab_id = $1 AND instrument.id = r.instrument_id',
    instrumentId: 'r.instrument_id',
  },
};
