import { InputError } from '#libs/quantity';
import type { Problem, ProblemCode } from '../../generated/schema.js';

/** An expected failure: told to the caller in the schema, never logged as a bug. Throwing it rolls the transaction back. */
export class ProblemError extends Error {
  override readonly name = 'ProblemError';

  constructor(
    readonly code: ProblemCode,
    readonly field: string | null,
    readonly problem: string,
    readonly remedy: string,
    /** Further payload fields the mutation returns beside the problem, for example the flags that ask. */
    readonly beside: Record<string, unknown> = {},
  ) {
    super(`${problem} ${remedy}`);
  }
}

export const notFound = (field: string, what: string): ProblemError =>
  new ProblemError('NOT_FOUND', field, `${what} was not found in this lab.`, 'Choose one that exists, or record it first.');

interface DatabaseError {
  readonly driverError?: { readonly code?: string; readonly constraint?: string; readonly detail?: string };
}

/** Names people give, by the unique index that guards them. */
const uniqueNames: Record<string, { field: string; what: string }> = {
  crop_name: { field: 'name', what: 'A crop with this name' },
  plant_label: { field: 'label', what: 'A plant with this label' },
  leaf_label: { field: 'label', what: 'A leaf with this label' },
  place_label: { field: 'label', what: 'A place with this label there' },
  disc_label: { field: 'label', what: 'A disc with this label' },
  instrument_label: { field: 'label', what: 'An instrument with this label' },
  rig_version: { field: 'version', what: 'This version of the rig' },
  drying_run_label: { field: 'label', what: 'A drying run with this label' },
  oven_cycle_label: { field: 'label', what: 'An oven cycle with this label' },
  calibration_label: { field: 'label', what: 'A calibration with this label' },
  device_lot_label: { field: 'label', what: 'A device lot with this label' },
  device_unit_label: { field: 'label', what: 'A device unit with this label' },
  light_reference_label: { field: 'label', what: 'A light reference with this label' },
  access_token_label: { field: 'label', what: 'An access token with this name' },
  account_email: { field: 'email', what: 'An account with this e-mail' },
};

const camel = (column: string): string => column.replace(/_(\w)/g, (_, letter: string) => letter.toUpperCase());

function fromDatabase(error: unknown): ProblemError | null {
  const { code, constraint = '' } = (error as DatabaseError)?.driverError ?? {};
  if (code === '23505') {
    if (constraint === 'amendment_target') {
      return new ProblemError('ALREADY_AMENDED', 'targetId', 'This record was amended already.', 'Amend its replacement instead.');
    }
    if (constraint === 'signature_once') {
      return new ProblemError('STATE', 'meaning', 'A signature of this meaning stands on it already.', 'Read the signatures; a new version can be signed anew.');
    }
    if (constraint === 'drying_run_step_once' || constraint === 'oven_unloading_once') {
      return new ProblemError('STATE', 'id', 'This step was taken already.', 'Reload to see its present state.');
    }
    if (constraint === 'calibration_share_everywhere') {
      return new ProblemError('REPLAY_MISMATCH', 'id', 'This id was used before.', 'Nothing was changed. Send the share with an id of its own.');
    }
    if (constraint === 'share_grant_withdrawal_once') return new ProblemError('STATE', 'grantId', 'This grant was taken back already.', 'Nothing more is to be done.');
    if (constraint === 'zone_rule_version') return new ProblemError('STATE', 'zone', 'Another version was made at the same moment.', 'Send it again.');
    if (constraint === 'installation_end_once') return new ProblemError('STATE', 'installationId', 'This installation has ended already.', 'Reload to see when and why.');
    if (constraint === 'access_token_revocation_once') {
      return new ProblemError('STATE', 'accessTokenId', 'This token is revoked already.', 'Nothing more is to be done.');
    }
    if (constraint === 'calibration_version_number') {
      return new ProblemError('STATE', 'calibrationId', 'Another version was made at the same moment.', 'Send it again.');
    }
    const known = uniqueNames[constraint];
    if (known) return new ProblemError('INPUT', known.field, `${known.what} exists already.`, 'Choose another, or use the existing one.');
  }
  if (code === '23503') {
    const column = /_lab_id_(\w+)_fkey$/.exec(constraint)?.[1];
    if (column) return notFound(camel(column), `The ${column.replace(/_id$/, '').replaceAll('_', ' ')}`);
  }
  return null;
}

/** A library says "is missing" of a field; a person reads "Start at is missing". */
function sentence({ field, problem }: InputError): string {
  const name = (field.split('.').at(-1) ?? field).replace(/([a-z])([A-Z])/g, '$1 $2').toLowerCase();
  const whole = /^(is|has|names|stands|lies|cannot|could|does|turns) /.test(problem) ? `${name} ${problem}` : problem;
  return `${whole.charAt(0).toUpperCase()}${whole.slice(1)}`;
}

/** The expected failure behind an error, or null when the error is a bug. */
export function asProblem(error: unknown): { problem: Problem; beside: Record<string, unknown> } | null {
  if (error instanceof InputError) {
    const message = `${sentence(error)}.`;
    return { problem: { code: 'INPUT', field: error.field, message, remedy: error.remedy }, beside: {} };
  }
  const expected = error instanceof ProblemError ? error : fromDatabase(error);
  if (!expected) return null;
  return {
    problem: { code: expected.code, field: expected.field, message: expected.problem, remedy: expected.remedy },
    beside: expected.beside,
  };
}

/**
 * Runs a mutation and turns its expected failures into the payload's `problem`.
 *
 * @param empty values of the payload's other non-null fields when there is a problem
 */
export async function settle<P extends object, E extends object = Record<never, never>>(
  work: () => Promise<P>,
  empty: E = {} as E,
): Promise<P | ({ replayed: false; problem: Problem } & E)> {
  try {
    return await work();
  } catch (error) {
    const expected = asProblem(error);
    if (!expected) throw error;
    return { replayed: false, ...empty, ...expected.beside, problem: expected.problem };
  }
}
