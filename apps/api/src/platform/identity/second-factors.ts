import { createHash, randomInt } from 'node:crypto';
import { generateSecret, generateURI, verify } from 'otplib';
import type { Tx } from '../database/database.js';
import { ProblemError } from '../errors/problem.js';
import { FailureCount } from './failure-count.js';
import {
  confirmSecondFactor, recoveryCodesLeft, removeSecondFactor, secondFactorOf, startSecondFactor, takeStep, useRecoveryCode,
} from './second-factor.repository.js';
import type { Sealing } from './sealing.js';

/** A phone's clock may be one step off either way (RFC 6238 section 5.2). */
const TOLERANCE_S = 30;
const RECOVERY_CODES = 10;
/** Of a recovery code: without those that are taken for each other. */
const LETTERS = 'abcdefghjkmnpqrstuvwxyz23456789';

export interface Enrolment {
  readonly secret: string;
  readonly uri: string;
}

/**
 * Codes of an authenticator (RFC 6238) as a second factor. Works inside transactions fenced to the account concerned. Each
 * code is good once; ten wrong ones in a quarter of an hour make the person wait.
 */
export class SecondFactors {
  private readonly failures = new FailureCount();

  /** @param sealing null on a server without a secret of its own: there no second factor can be set */
  constructor(private readonly sealing: Sealing | null) {}

  async stateOf(tx: Tx, accountId: string): Promise<{ set: boolean; recoveryCodesLeft: number }> {
    const factor = await secondFactorOf(tx, accountId);
    return factor?.confirmed ? { set: true, recoveryCodesLeft: await recoveryCodesLeft(tx, accountId) } : { set: false, recoveryCodesLeft: 0 };
  }

  /** @throws ProblemError `STATE` where one stands, or where the server has no key to seal it with */
  async start(tx: Tx, accountId: string, email: string): Promise<Enrolment> {
    if (!this.sealing) throw new ProblemError('STATE', null, 'This server has no secret key to keep it under.', 'Whoever runs the server gives it a ledger key first.');
    if ((await secondFactorOf(tx, accountId))?.confirmed) throw new ProblemError('STATE', null, 'A second factor is set already.', 'Remove it first.');
    const secret = generateSecret();
    await startSecondFactor(tx, accountId, this.sealing.seal(secret, accountId));
    return { secret, uri: generateURI({ issuer: 'Threadleaf', label: email, secret }) };
  }

  /** @returns the recovery codes, told this once */
  async confirm(tx: Tx, accountId: string, code: string): Promise<string[]> {
    const factor = await secondFactorOf(tx, accountId);
    if (!factor || factor.confirmed) throw new ProblemError('STATE', 'code', 'No second factor waits to be confirmed.', 'Start with a new square code.');
    await this.demandCode(tx, accountId, code);
    const codes = Array.from({ length: RECOVERY_CODES }, newRecoveryCode);
    await confirmSecondFactor(tx, accountId, codes.map(hashOf));
    return codes;
  }

  async remove(tx: Tx, accountId: string, code: string): Promise<void> {
    if (!(await this.passes(tx, accountId, code))) throw new ProblemError('STATE', null, 'No second factor is set.', 'There is nothing to remove.');
    await removeSecondFactor(tx, accountId);
  }

  /**
   * Asks for the code of whoever has a second factor; a recovery code does in its place.
   *
   * @returns false where none is set and so nothing was asked
   * @throws ProblemError `SECOND_FACTOR` where the code is missing, wrong or used
   */
  async passes(tx: Tx, accountId: string, code: string | null | undefined): Promise<boolean> {
    const factor = await secondFactorOf(tx, accountId);
    if (!factor?.confirmed) return false;
    if (!code?.trim()) throw new ProblemError('SECOND_FACTOR', 'code', 'A code of your authenticator is needed.', 'Enter the six digits that it shows now, or a recovery code.');
    const typed = code.replace(/[\s-]/g, '').toLowerCase();
    if (/^\d{6}$/.test(typed)) await this.demandCode(tx, accountId, typed);
    else {
      this.refuseAfterFailures(accountId);
      if (!(await useRecoveryCode(tx, accountId, hashOf(typed)))) throw this.failed(accountId, 'The recovery code does not match, or was used before.');
    }
    this.failures.forget(accountId);
    return true;
  }

  private async demandCode(tx: Tx, accountId: string, code: string): Promise<void> {
    this.refuseAfterFailures(accountId);
    const factor = (await secondFactorOf(tx, accountId))!;
    const secret = this.sealing?.open(factor.sealed, accountId) ?? null;
    if (secret === null) {
      throw new ProblemError('SECOND_FACTOR', 'code', 'This server cannot open your second factor: its secret key is another one.', 'Use a recovery code, remove the second factor and set a new one.');
    }
    const token = code.replace(/\s/g, '');
    const answer = /^\d{6}$/.test(token) ? await verify({ secret, token, epochTolerance: TOLERANCE_S }) : { valid: false as const };
    if (!answer.valid || !('timeStep' in answer)) throw this.failed(accountId, 'The code does not match.');
    if (!(await takeStep(tx, accountId, answer.timeStep))) throw this.failed(accountId, 'This code was used already.');
  }

  private failed(accountId: string, problem: string): ProblemError {
    this.failures.add(accountId);
    return new ProblemError('SECOND_FACTOR', 'code', problem, 'Wait for the next code of your authenticator and enter that; look whether the clock of the phone is right.');
  }

  private refuseAfterFailures(accountId: string): void {
    if (this.failures.tooMany(accountId)) throw new ProblemError('SECOND_FACTOR', 'code', 'Too many wrong codes.', 'Wait a quarter of an hour and try again.');
  }
}

/** Twelve letters of 31, near 60 bits: nothing to be guessed from its hash. */
function newRecoveryCode(): string {
  const letters = Array.from({ length: 12 }, () => LETTERS[randomInt(LETTERS.length)]!).join('');
  return `${letters.slice(0, 4)}-${letters.slice(4, 8)}-${letters.slice(8)}`;
}

const hashOf = (code: string): Buffer => createHash('sha256').update(code.replaceAll('-', '')).digest();
