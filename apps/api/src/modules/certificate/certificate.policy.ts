import type { Policies } from '../../platform/identity/policy.js';

const device = ['FIELD_ENGINEER', 'RESEARCHER', 'MANAGER'] as const;

export const certificatePolicies: Policies = {
  'Query.lightReferences': 'member',
  'Query.thresholdCertificate': 'member',
  'Query.thresholdCertificates': 'member',
  'Mutation.recordLightReference': device,
  'Mutation.issueCertificate': device,
};
