import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

export const sharePolicies: Policies = {
  'Query.sharedCalibrations': 'member',
  'Query.sharedCalibration': 'member',
  'Query.otherLabs': ['RESEARCHER', 'MANAGER'],
  'Query.sharePack': ['RESEARCHER', 'MANAGER', 'AUDITOR'],
  'Mutation.shareCalibration': ['RESEARCHER', 'MANAGER'],
  'Mutation.grantShare': ['RESEARCHER', 'MANAGER'],
  'Mutation.withdrawGrant': ['RESEARCHER', 'MANAGER'],
  'Mutation.adoptCalibration': ['RESEARCHER', 'MANAGER'],
  'Query.readSharedPack': ['RESEARCHER', 'MANAGER'],
  'Mutation.importCalibration': ['RESEARCHER', 'MANAGER'],
  'Mutation.recordCalibrationComment': 'member',
  'Mutation.followShare': 'member',
};

export const shareTokenScopes: TokenScopes = {
  'Query.sharedCalibrations': ['READ'],
  'Query.sharedCalibration': ['READ'],
};
