import type { Policies } from '../../platform/identity/policy.js';

const device = ['FIELD_ENGINEER', 'RESEARCHER', 'MANAGER'] as const;

export const passportPolicies: Policies = {
  'Query.acceptancePlan': 'member',
  'Query.deviceLot': 'member',
  'Mutation.recordAbsorptionBand': device,
  'Mutation.recordChoppedRun': device,
  'Mutation.recordResetPulse': device,
  'Mutation.recordTemperatureRun': device,
  'Mutation.recordCycleCount': device,
  'Mutation.retireDeviceUnit': device,
  'Mutation.recordLotAcceptance': device,
};
