import type { DueKind, Role } from '../../generated/schema.js';
import type { Actor } from '../../platform/identity/actor.js';
import { APPROVERS, SIGNABLE } from '../signature/signature.repository.js';
import type { DueRow } from './due.repository.js';

const bench: readonly Role[] = ['TECHNICIAN', 'RESEARCHER', 'MANAGER'];

/** What each kind asks in words, and of whom. */
const told: Readonly<Record<DueKind, { what: (label: string) => string; roles: readonly Role[] }>> = {
  HYDRATION_ENDS: { what: (label) => `Take the discs of ${label} out of the water and blot them`, roles: bench },
  INSTRUMENT_CALIBRATION: { what: (label) => `Have ${label} calibrated`, roles: ['MANAGER'] },
  NEXT_READING: { what: (label) => `Next reading of run ${label}`, roles: bench },
  BRACKET: { what: (label) => `Take the reference of run ${label}: its bracket has grown long`, roles: bench },
  RUN_TO_CLOSE: { what: (label) => `Close run ${label}: nothing was weighed for half a day`, roles: bench },
  RUN_TO_RELEASE: { what: (label) => `Release run ${label}: all dry masses are in`, roles: ['RESEARCHER', 'MANAGER'] },
  OVEN_CHECK: { what: (label) => `Weigh the discs of oven cycle ${label}`, roles: bench },
  OVEN_UNLOAD: { what: (label) => `Unload oven cycle ${label}: every disc is dry, or gone`, roles: bench },
  DISCS_COOLED: { what: (label) => `Weigh the discs of oven cycle ${label}: they have cooled`, roles: bench },
  INSTRUMENT_CHECK: { what: (label) => `Check ${label}`, roles: [...bench, 'FIELD_ENGINEER'] },
  REVIEW: { what: (label) => `Review ${label}`, roles: ['RESEARCHER', 'MANAGER', 'FIELD_ENGINEER'] },
  APPROVAL: { what: (label) => `Approve ${label}`, roles: ['RESEARCHER', 'MANAGER'] },
  TRIP_TO_DECIDE: { what: (label) => `Decide on the trip of ${label}`, roles: ['FIELD_ENGINEER', 'RESEARCHER', 'MANAGER'] },
  STALE_RESULT: { what: (label) => `Compute the RWC of ${label} anew: a fact under it was amended`, roles: bench },
  CERTIFICATE_ENDS: { what: (label) => `The certificate of unit ${label} runs out`, roles: ['FIELD_ENGINEER', 'RESEARCHER', 'MANAGER'] },
  INSTALLATION_SILENT: { what: (label) => `Look after unit ${label}: nothing was heard of it`, roles: ['FIELD_ENGINEER', 'MANAGER'] },
};

export const whatOf = ({ kind, label }: DueRow): string => told[kind].what(label);
/** Whose approval counts differs by what is approved. */
export function rolesOf({ kind, subjectKind }: DueRow): readonly Role[] {
  const signable = kind === 'APPROVAL' ? SIGNABLE.find((each) => each === subjectKind) : undefined;
  return signable ? APPROVERS[signable] : told[kind].roles;
}

/** Whether the person may act on it: by role, and not on what is waiting for somebody else's word. */
export const actsOn = (actor: Actor, row: DueRow): boolean =>
  actor.roles.some((role) => rolesOf(row).includes(role)) && row.madeBy !== actor.accountId && !(row.signedBy ?? []).includes(actor.accountId);
