import type { Policies } from '../../platform/identity/policy.js';
import type { TokenScopes } from '../../platform/identity/token-scopes.js';

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

/** A bench computer sends what it measures; claims and retirements are a person's. */
export const passportTokenScopes: TokenScopes = {
  'Query.deviceLot': ['READ', 'DEVICE'],
  'Mutation.recordAbsorptionBand': ['DEVICE'],
  'Mutation.recordChoppedRun': ['DEVICE'],
  'Mutation.recordResetPulse': ['DEVICE'],
  'Mutation.recordTemperatureRun': ['DEVICE'],
  'Mutation.recordCycleCount': ['DEVICE'],
};
