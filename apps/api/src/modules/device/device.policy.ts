import type { Policies } from '../../platform/identity/policy.js';

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
