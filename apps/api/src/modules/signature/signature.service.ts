import { Injectable } from '@nestjs/common';
import type { SignInput } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowsBy } from '../../platform/database/rows.js';
import { asProblem, notFound, ProblemError } from '../../platform/errors/problem.js';
import { optionalText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { SecondFactors } from '../../platform/identity/second-factors.js';
import { idWithin } from '../../platform/ledger/id-within.js';
import { Recorder, type Written } from '../../platform/ledger/recorder.js';
import { holdFactsStill, staleAmong } from '../amendment/amendment.repository.js';
import { LabService } from '../lab/lab.service.js';
import { heldOn } from '../notice/holders.repository.js';
import { Notices } from '../notice/notices.service.js';
import { restateShares } from '../share/share.repository.js';
import { labelsOf } from '../thread/thread.repository.js';
import { Signature } from './signature.entity.js';
import { APPROVERS, HELD, REVIEWED_FIRST, SIGNABLE, subjectOf, type Signable } from './signature.repository.js';

/** Signatures on results: whose word it is, what it means, bound to the result's content hash. */
@Injectable()
export class SignatureService {
  constructor(
    private readonly recorder: Recorder,
    private readonly labs: LabService,
    private readonly notices: Notices,
    private readonly factors: SecondFactors,
  ) {}

  /**
   * @throws ProblemError `CREDENTIALS` for a wrong password, `SECOND_FACTOR` for a code, `SEPARATION_OF_DUTIES` for one's own work, `STATE` out of turn
   */
  async sign(tx: Tx, actor: Actor, input: SignInput): Promise<Written<Signature>> {
    await this.labs.confirmPassword(tx, actor, 'password', input.password);
    return this.signOne(tx, actor, input, () => this.factors.passes(tx, actor.accountId, input.code));
  }

  /**
   * One word on many results of a kind: password and code are asked once, each result gets a signature of its own.
   *
   * @param input its `id` is what the ids of the signatures follow from
   * @returns how many were signed, now or before under this id, and those whose turn it was not, with why
   * @throws ProblemError `CREDENTIALS`, `SECOND_FACTOR`: then none is signed
   */
  async signAll(tx: Tx, actor: Actor, input: Omit<SignInput, 'subjectId'>, subjectIds: readonly string[]): Promise<{ signed: number; left: { subjectId: string; message: string }[] }> {
    await this.labs.confirmPassword(tx, actor, 'password', input.password);
    let asked: Promise<boolean> | null = null;
    const confirmed = (): Promise<boolean> => (asked ??= this.factors.passes(tx, actor.accountId, input.code));
    const left: { subjectId: string; message: string }[] = [];
    for (const subjectId of subjectIds) {
      try {
        await this.signOne(tx, actor, { ...input, id: idWithin(input.id, subjectId), subjectId }, confirmed);
      } catch (error) {
        const refused = asProblem(error)?.problem;
        if (!refused || refused.code === 'SECOND_FACTOR') throw error;
        left.push({ subjectId, message: refused.message });
      }
    }
    return { signed: subjectIds.length - left.length, left };
  }

  private async signOne(tx: Tx, actor: Actor, input: Omit<SignInput, 'password'>, confirmed: () => Promise<boolean>): Promise<Written<Signature>> {
    const given = {
      id: input.id,
      subjectKind: input.subjectKind,
      subjectId: input.subjectId,
      meaning: input.meaning,
      statement: optionalText(input.statement),
    };
    const written = await this.recorder.record(tx, actor, Signature, given, async () => {
      const kind = SIGNABLE.find((candidate) => candidate === input.subjectKind);
      if (!kind) throw new ProblemError('INPUT', 'subjectKind', `A ${input.subjectKind.replaceAll('_', ' ')} is not signed.`, `Sign one of ${SIGNABLE.join(', ').replaceAll('_', ' ')}.`);
      const subject = await subjectOf(tx, kind, input.subjectId);
      if (!subject) throw notFound('subjectId', `The ${kind.replaceAll('_', ' ')}`);
      await this.requireTurn(tx, actor, input, kind, subject.recordedBy);
      // Last, so that a code is not spent on what is refused anyway; a signature sent again is recognised without one.
      const withCode = await confirmed();
      return {
        derived: { subjectHash: subject.contentHash.toString('hex'), confirmedBy: withCode ? 'PASSWORD_AND_CODE' as const : 'PASSWORD' as const },
        uses: [{ kind, id: input.subjectId, role: 'signs' }],
        action: input.meaning.toLowerCase(),
        reason: given.statement,
      };
    });
    if (input.meaning === 'WITHDRAWN' && !written.replayed) await this.tellHolders(tx, actor, written.row);
    if (input.subjectKind === 'calibration_version' && !written.replayed) await restateShares(tx, given.statement);
    return written;
  }

  /** Who holds a certificate or an installation on the strength of this approval learns that it is gone; who withdrew it knows. */
  private async tellHolders(tx: Tx, actor: Actor, { subjectKind, subjectId, statement }: Signature): Promise<void> {
    const held = await heldOn(tx, { kind: subjectKind, id: subjectId }, HELD);
    const labels = await labelsOf(tx, held);
    const what = labels.get(subjectId) ?? subjectKind.replaceAll('_', ' ');
    for (const { kind, id, holderIds } of held) {
      const rests = id === subjectId ? 'You made or signed it' : `The ${labels.get(id)} that you made or signed rests on it`;
      await this.notices.tell(tx, {
        kind: 'APPROVAL_WITHDRAWN',
        text: `${actor.displayName} withdrew the ${what}${statement ? `: “${statement}”` : ''}. ${rests}.`,
        subjectKind: kind,
        subjectId: id,
        accountIds: holderIds.filter((holderId) => holderId !== actor.accountId),
      });
    }
  }

  private async requireTurn(tx: Tx, actor: Actor, input: Omit<SignInput, 'password'>, kind: Signable, author: string): Promise<void> {
    await holdFactsStill(tx);
    const standing = await rowsBy(tx, Signature, 'subjectId', [input.subjectId]);
    const has = (meaning: string): Signature | undefined => standing.find((signature) => signature.meaning === meaning);
    const what = kind.replaceAll('_', ' ');
    if (has('WITHDRAWN')) throw new ProblemError('STATE', 'meaning', `This ${what} was withdrawn.`, 'Make a new one.');
    if (input.meaning === 'WITHDRAWN' && !input.statement?.trim()) {
      throw new ProblemError('INPUT', 'statement', 'A withdrawal without a reason helps nobody.', 'Say why it may not be used: those who hold it are told.');
    }
    if (input.meaning === 'AUTHORED' && author !== actor.accountId) {
      throw new ProblemError('SEPARATION_OF_DUTIES', 'meaning', `Somebody else made this ${what}.`, 'Review or approve it instead.');
    }
    if (input.meaning === 'REVIEWED' || input.meaning === 'APPROVED') {
      if (author === actor.accountId) {
        throw new ProblemError('SEPARATION_OF_DUTIES', 'meaning', `You made this ${what} yourself.`, 'Ask another person of the lab to sign it.');
      }
      if ((await staleAmong(tx, [input.subjectId])).size > 0) {
        throw new ProblemError('STATE', 'subjectId', `A fact that this ${what} rests on was amended.`, 'Compute it anew and sign the new one.');
      }
    }
    if (input.meaning === 'APPROVED') {
      const review = has('REVIEWED');
      if (!review && REVIEWED_FIRST[kind]) throw new ProblemError('STATE', 'meaning', `This ${what} has not been reviewed.`, 'Have another person review it first.');
      if (review?.recordedBy === actor.accountId) {
        throw new ProblemError('SEPARATION_OF_DUTIES', 'meaning', `You reviewed this ${what} yourself.`, 'A third person approves it.');
      }
      const approvers = APPROVERS[kind];
      if (!approvers.some((role) => actor.roles.includes(role))) {
        throw new ProblemError('SEPARATION_OF_DUTIES', 'meaning', `Approval is given by a ${approvers.map((role) => role.toLowerCase()).join(' or a ')}.`, 'Ask one of them.');
      }
    }
  }
}
