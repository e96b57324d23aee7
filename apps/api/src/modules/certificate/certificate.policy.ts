import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

const device = ['FIELD_ENGINEER', 'RESEARCHER', 'MANAGER'] as const;

export const certificatePolicies: Policies = {
  'Query.lightReferences': 'member',
  'Query.thresholdCertificate': 'member',
  'Query.thresholdCertificates': 'member',
  'Mutation.recordLightReference': device,
  'Query.certificateTrial': device,
  'Query.guardBandTarget': device,
  'Query.certificateBatch': 'member',
  'Mutation.issueCertificate': device,
  'Mutation.issueCertificates': device,
  'Mutation.signCertificateBatch': device,
};

export const certificateTokenScopes: TokenScopes = {
  'Query.lightReferences': ['READ', 'DEVICE', 'FIELD'],
  'Query.thresholdCertificate': ['READ', 'DEVICE', 'FIELD'],
  'Query.thresholdCertificates': ['READ', 'DEVICE', 'FIELD'],
  'Query.certificateBatch': ['READ'],
  'Mutation.recordLightReference': ['DEVICE', 'FIELD'],
  'GET /papers': ['READ', 'DEVICE', 'FIELD'],
};
