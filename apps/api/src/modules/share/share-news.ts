import { Injectable, type OnApplicationBootstrap, type OnApplicationShutdown } from '@nestjs/common';
import { Database, type Fence, type Tx } from '../../platform/database/database.js';
import { Recorder } from '../../platform/ledger/recorder.js';
import { heldOn } from '../notice/holders.repository.js';
import { Notices } from '../notice/notices.service.js';
import { HELD } from '../signature/signature.repository.js';
import { adoptersOf, followersOf, markTold, newComments, newGrants, newStandings, newWithdrawals, sharersOf, talkersOn, type StandingNews } from './share-news.repository.js';

/** Kinds of record after which other labs may have something to hear. */
const CONCERNS: readonly string[] = ['signature', 'amendment', 'share_grant', 'share_grant_withdrawal', 'calibration_comment'];
/** One write is seldom alone. */
const DEBOUNCE_MS = 150;
/** How often to look for what a process that was killed left untold. */
const SWEEP_MS = 300_000;
const UNFENCED: Fence = { labId: null, accountId: null };

/**
 * Tells each lab's people what other labs did with what they share. No lab writes into another: each one, inside its own
 * fence, fetches what it may see and has not told yet. So nothing is lost by a crash and nothing told that may not be seen.
 */
@Injectable()
export class ShareNews implements OnApplicationBootstrap, OnApplicationShutdown {
  private timer: NodeJS.Timeout | null = null;
  private sweeping: NodeJS.Timeout | null = null;
  private working: Promise<void> = Promise.resolve();
  private closed = false;

  constructor(
    private readonly database: Database,
    private readonly notices: Notices,
    recorder: Recorder,
  ) {
    recorder.onWrite((tx, kind) => {
      if (CONCERNS.includes(kind)) tx.afterCommit(() => this.nudge());
    });
  }

  onApplicationBootstrap(): void {
    this.nudge();
    this.sweeping = setInterval(() => this.nudge(), SWEEP_MS);
    this.sweeping.unref();
  }

  async onApplicationShutdown(): Promise<void> {
    this.closed = true;
    if (this.timer) clearTimeout(this.timer);
    if (this.sweeping) clearInterval(this.sweeping);
    await this.working;
  }

  private nudge(): void {
    if (this.closed) return;
    this.timer ??= setTimeout(() => {
      this.timer = null;
      // A lab whose news fail now hears them at the next look.
      this.working = this.working.then(() => this.tellAll()).catch((error: Error) => console.error(`News of shared calibrations wait: ${error.message}`));
    }, DEBOUNCE_MS);
    this.timer.unref();
  }

  private async tellAll(): Promise<void> {
    const labs = await this.database.write(UNFENCED, (tx) => tx.query<{ id: string }>('SELECT id FROM lab'));
    for (const { id } of labs) {
      if (this.closed) return;
      await this.database.write({ labId: id, accountId: null }, (tx) => this.catchUp(tx));
    }
  }

  private async catchUp(tx: Tx): Promise<void> {
    for (const { news, giver, what, shareId } of await newGrants(tx)) {
      if (!(await markTold(tx, news))) continue;
      await this.notices.tell(tx, {
        kind: 'SHARED_WITH_LAB', text: `${giver} shares ${what} with your lab. Look at it, and how far it holds, under Calibrations.`,
        subjectKind: 'shared_calibration', subjectId: shareId, accountIds: await sharersOf(tx),
      });
    }
    for (const { news, giver, what, shareId, reason } of await newWithdrawals(tx)) {
      if (!(await markTold(tx, news))) continue;
      await this.notices.tell(tx, {
        kind: 'SHARED_WITH_LAB', text: `${giver} shares ${what} with your lab no longer: “${reason}”. What you took over stays; each new use needs a reason.`,
        subjectKind: 'shared_calibration', subjectId: shareId, accountIds: [...(await followersOf(tx, shareId)), ...(await this.holders(tx, shareId))],
      });
    }
    for (const standing of await newStandings(tx)) {
      if (await markTold(tx, standing.news)) await this.tellStanding(tx, standing);
    }
    for (const { news, by, labName, text, question, what, shareId, giverLabId, calibrationVersionId } of await newComments(tx)) {
      if (!(await markTold(tx, news))) continue;
      const mine = giverLabId === tx.labId;
      await this.notices.tell(tx, {
        kind: 'SHARED_VERSION_DISCUSSED', text: `${by} of ${labName} ${question ? 'asks' : 'says'} about ${what}: “${text.length > 160 ? `${text.slice(0, 160)}…` : text}”`,
        subjectKind: mine ? 'calibration_version' : 'shared_calibration', subjectId: mine ? calibrationVersionId : shareId,
        accountIds: [...(await talkersOn(tx, shareId)), ...(await followersOf(tx, shareId)), ...(await this.holders(tx, shareId))],
      });
    }
  }

  private async tellStanding(tx: Tx, { giver, what, shareId, state, stale, reason }: StandingNews): Promise<void> {
    const why = reason ? `: “${reason}”` : '';
    const sentence = state === 'WITHDRAWN'
      ? `${giver} withdrew ${what}${why}. No new certificate can rest on it; look at those that do, and at their units in the field.`
      : stale
        ? `At ${giver} a fact below ${what} was amended${why}. It may read differently when it is computed anew; each new use needs a reason until then.`
        : state === 'SUPERSEDED'
          ? `${giver} approved a newer version than ${what}.`
          : `${what} is ${state.toLowerCase()} at ${giver} again.`;
    const adopted = await adoptersOf(tx, shareId);
    await this.notices.tell(tx, {
      kind: 'SHARED_VERSION_CHANGED', text: sentence,
      subjectKind: adopted[0] ? 'calibration_version' : 'shared_calibration', subjectId: adopted[0]?.versionId ?? shareId,
      accountIds: [...(await followersOf(tx, shareId)), ...(await this.holders(tx, shareId))],
    });
  }

  /** Who made or signed what rests on the versions taken over from a share. */
  private async holders(tx: Tx, shareId: string): Promise<string[]> {
    const people: string[] = [];
    for (const { versionId } of await adoptersOf(tx, shareId)) {
      for (const { holderIds } of await heldOn(tx, { kind: 'calibration_version', id: versionId }, HELD)) people.push(...holderIds);
    }
    return people;
  }
}
