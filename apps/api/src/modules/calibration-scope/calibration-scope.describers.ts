import { percent, type Describers } from '../thread/describer.js';

export const calibrationScopeDescribers: Describers = {
  calibration_scope: {
    label: "'scope of ' || calibration.label || ' version ' || version.version",
    summary: `concat_ws(', ', 'RWC ' || ${percent('r.rwc_min')} || ' to ' || ${percent('r.rwc_max')}, nullif('cultivars ' || array_to_string(r.cultivars, ', '), 'cultivars '),
      nullif('stages ' || array_to_string(r.growth_stages, ', '), 'stages '), lower(replace(r.leaf_side, '_', ' ')),
      'band ' || r.band_from_nm || ' to ' || r.band_to_nm || ' nm', 'valid until ' || to_char(r.valid_until AT TIME ZONE 'UTC', 'YYYY-MM-DD'),
      nullif('ends on ' || lower(replace(array_to_string(r.ends_on, ', '), '_', ' ')), 'ends on '), r.note)`,
    joins: `JOIN calibration_version version ON version.lab_id = $1 AND version.id = r.calibration_version_id
      JOIN calibration ON calibration.lab_id = $1 AND calibration.id = version.calibration_id`,
  },
};
