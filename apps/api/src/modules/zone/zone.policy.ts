import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

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
  'Mutation.lookOverField': field,
};

/** A rain gauge posts by token, a dashboard reads; rules and advice are a person's. */
export const zoneTokenScopes: TokenScopes = {
  'Query.zones': ['READ', 'FIELD'],
  'Query.zone': ['READ', 'FIELD'],
  'Query.zoneRule': ['READ'],
  'Query.zoneAdvice': ['READ'],
  'Query.replayZoneRule': ['READ'],
  'Query.zoneRuleRisk': ['READ'],
  'Query.fieldMarks': ['READ', 'FIELD'],
  'Query.fieldAgreement': ['READ'],
  'Query.sitePlans': ['READ'],
  'Mutation.recordRain': ['FIELD'],
};
