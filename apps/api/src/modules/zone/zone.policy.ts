import type { Policies } from '../../platform/identity/policy.js';

const field = ['FIELD_ENGINEER', 'RESEARCHER', 'MANAGER'] as const;

export const zonePolicies: Policies = {
  'Query.zones': 'member',
  'Query.zone': 'member',
  'Query.zoneRule': 'member',
  'Query.zoneAdvice': 'member',
  'Query.replayZoneRule': 'member',
  'Query.zoneRuleRisk': 'member',
  'Query.fieldMarks': 'member',
  'Query.fieldAgreement': 'member',
  'Query.sitePlans': 'member',
  'Mutation.recordZoneRule': field,
  'Mutation.adviseZone': field,
  'Mutation.recordRain': field,
  'Mutation.recordSitePlan': field,
};
