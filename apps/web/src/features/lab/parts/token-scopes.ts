import type { Role, TokenScope } from '../../../generated/graphql.js';

interface ScopeTold {
  readonly scope: TokenScope;
  readonly word: string;
  readonly purpose: string;
  /** Who may make a token with it; the server decides. */
  readonly roles: readonly Role[];
}

const told: readonly ScopeTold[] = [
  { scope: 'READ', word: 'read', purpose: 'the record; writes nothing', roles: ['RESEARCHER', 'MANAGER', 'AUDITOR', 'FIELD_ENGINEER'] },
  { scope: 'LISTEN', word: 'listen', purpose: 'tells what an instrument on a bench computer said', roles: ['TECHNICIAN', 'RESEARCHER', 'MANAGER'] },
  { scope: 'BENCH', word: 'bench', purpose: 'records samples, weighings, readings, ovens and checks', roles: ['TECHNICIAN', 'RESEARCHER', 'MANAGER'] },
  { scope: 'DEVICE', word: 'devices', purpose: 'records sweeps, trip tests and light references', roles: ['FIELD_ENGINEER', 'RESEARCHER', 'MANAGER'] },
  { scope: 'FIELD', word: 'field', purpose: 'records trips and light, as a logger does', roles: ['FIELD_ENGINEER', 'RESEARCHER', 'MANAGER'] },
  { scope: 'CALIBRATION', word: 'calibrations', purpose: 'builds drafts, studies transfers, records spectra; signs and shares nothing', roles: ['RESEARCHER', 'MANAGER'] },
];

export const scopeWord = (scope: TokenScope): string => told.find((each) => each.scope === scope)?.word ?? scope.toLowerCase();

export const scopesFor = (roles: readonly Role[]): readonly ScopeTold[] => told.filter((each) => each.roles.some((role) => roles.includes(role)));
