import { signed, type Describers } from '../thread/describer.js';

export const zoneDescribers: Describers = {
  zone_rule: {
    label: "'rule of zone ' || r.zone || ' version ' || r.version",
    summary: `r.needed || ' tripped units over ' || r.windows || CASE r.windows WHEN 1 THEN ' window' ELSE ' windows' END || ' of ± ' || trim_scale(r.hours_around_noon) || ' h around noon; on ' || r.basis || ${signed('zone_rule')}`,
  },
  zone_advice: {
    label: "'advice for zone ' || r.zone",
    summary: "(r.document->>'advice') || ': ' || (SELECT string_agg(reason, ' ') FROM jsonb_array_elements_text(r.document->'reasons') reason) || ' Code ' || r.code_version",
    observedAt: 'r.made_for',
  },
  rain: {
    label: "'rain in zone ' || r.zone",
    summary: "trim_scale(r.depth_mm) || ' mm' || coalesce(', ' || r.note, '')",
    observedAt: 'r.observed_at',
    offsetMin: 'r.observed_offset_min',
  },
  site_plan: { label: "'plan of ' || r.site", summary: "'from ' || trim_scale(r.south_deg) || ' to ' || trim_scale(r.north_deg) || '° north, ' || trim_scale(r.west_deg) || ' to ' || trim_scale(r.east_deg) || '° east'" },
};
