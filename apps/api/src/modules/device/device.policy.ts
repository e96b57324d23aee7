import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

const device = ['FIELD_ENGINEER', 'RESEARCHER', 'MANAGER'] as const;

export const devicePolicies: Policies = {
  'Query.deviceUnits': 'member',
  'Query.deviceUnit': 'member',
  'Query.deviceLots': 'member',
  'Mutation.registerDeviceLot': device,
  'Mutation.registerDeviceUnit': device,
  'Mutation.recordBiasSweep': device,
  'Mutation.recordTripTest': device,
  'Mutation.fitBiasThresholdCurve': device,
};

export const deviceTokenScopes: TokenScopes = {
  'Query.deviceUnits': ['READ', 'DEVICE', 'FIELD'],
  'Query.deviceUnit': ['READ', 'DEVICE', 'FIELD'],
  'Query.deviceLots': ['READ', 'DEVICE'],
  'Mutation.registerDeviceUnit': ['DEVICE'],
  'Mutation.recordBiasSweep': ['DEVICE'],
  'Mutation.recordTripTest': ['DEVICE'],
};
