import { createHash } from 'node:crypto';
import { Injectable } from '@nestjs/common';
import { InputError } from '#libs/quantity';
import type { GrantShareInput, ShareCalibrationInput, WithdrawGrantInput } from '../../generated/schema.js';
import { Database, type Tx } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Use, type Written } from '../../platform/ledger/recorder.js';
import { Sequencer } from '../../platform/ledger/sequencer.js';
import { holdFactsStill, staleAmong } from '../amendment/amendment.repository.js';
import { CalibrationVersion } from '../calibration/calibration.entity.js';
import { newestScope } from '../calibration-scope/calibration-scope.repository.js';
import { EvidencePackService } from '../ledger/evidence-pack.service.js';
import { Signature } from '../signature/signature.entity.js';
import { approvalStates } from '../signature/signature.repository.js';
import { creditsOf } from './credits.js';
import { CalibrationShare, ShareGrant, ShareGrantWithdrawal } from './share.entity.js';
import { labsByIds, layPack, packSizes, restateShares, restsOnAdoption } from './share.repository.js';
import { signaturesOnVersion, statementOf } from './statement.js';

/** What a lab shares of its calibrations, with whom, and what it takes back. */
@Injectable()
export class ShareService {
  constructor(
    private readonly recorder: Recorder,
    private readonly database: Database,
    private readonly sequencer: Sequencer,
    private readonly packs: EvidencePackService,
  ) {}

  /**
   * States a version for others. Only what is approved and fresh: others cannot see what a draft still lacks.
   *
   * @throws ProblemError `STATE` for a version that is not approved, stale, or another lab's; `NOT_FOUND`
   */
  share(tx: Tx, actor: Actor, input: ShareCalibrationInput): Promise<Written<CalibrationShare>> {
    const given = {
      id: input.id,
      calibrationVersionId: input.calibrationVersionId,
      depth: input.depth,
      permits: input.permits,
      licence: requireText('licence', input.licence),
      citation: requireText('citation', input.citation),
    };
    return this.recorder.record(tx, actor, CalibrationShare, given, async () => {
      await holdFactsStill(tx);
      const version = await rowById(tx, CalibrationVersion, input.calibrationVersionId);
      if (!version) throw notFound('calibrationVersionId', 'The calibration version');
      if (version.calibrationAdoptionId) {
        throw new ProblemError('STATE', 'calibrationVersionId', 'This version is another lab’s: it is theirs to share.', 'Share what you fitted yourselves, and cite them.');
      }
      const state = (await approvalStates(tx, 'calibration_version', [version.id])).get(version.id)!;
      if (state !== 'APPROVED') throw new ProblemError('STATE', 'calibrationVersionId', `The version is ${state.toLowerCase()}; only an approved one is shared.`, 'Have it reviewed and approved first.');
      if ((await staleAmong(tx, [version.id])).size > 0) {
        throw new ProblemError('STATE', 'calibrationVersionId', 'A fact that the version rests on was amended.', 'Fit it anew and have that approved.');
      }
      if (input.depth === 'RAW' && (await restsOnAdoption(tx, version.id))) {
        throw new ProblemError('STATE', 'depth', 'Raw data of another lab lie below this version: they are not yours to hand on.', 'Share the summary, and cite that lab.');
      }
      const scope = await newestScope(tx, version.id);
      const signatures = await signaturesOnVersion(tx, Signature, version.id);
      return {
        derived: { document: await statementOf(tx, { version, scope, signatures, state, credits: (await creditsOf(tx, [version])).get(version.id)! }) },
        uses: [
          { kind: 'calibration_version', id: version.id, role: 'states' },
          ...(scope ? [{ kind: 'calibration_scope', id: scope.id, role: 'scope' }] : []),
          ...signatures.map(({ id }): Use => ({ kind: 'signature', id, role: 'signature' })),
        ],
        action: 'share',
      };
    }).then(async (written) => {
      await restateShares(tx, null);
      return written;
    });
  }

  /**
   * Seals the pack of a share once its entry stands in the ledger. Called after the share was committed, and again when the share
   * is sent again: a pack that is there stays.
   */
  async seal(actor: Actor, { id, depth, licence }: CalibrationShare): Promise<void> {
    const fence = { labId: actor.labId, accountId: actor.accountId };
    const there = await this.database.write(fence, async (tx) => (await packSizes(tx, [id])).has(id));
    if (there) return;
    await this.sequencer.settle(actor.labId);
    await this.database.write(fence, async (tx) => {
      const bytes = Buffer.from(await this.packs.share(tx, id, new Date(), { depth: depth === 'RAW' ? 'raw' : 'summary', licence }));
      await layPack(tx, id, createHash('sha256').update(bytes).digest('hex'), bytes);
    });
  }

  grant(tx: Tx, actor: Actor, input: GrantShareInput): Promise<Written<ShareGrant>> {
    const given = {
      id: input.id,
      shareId: input.shareId,
      audience: input.audience,
      labIds: [...new Set(input.labIds ?? [])].sort(),
      until: input.until ? parseMoment('until', input.until).at : null,
    };
    return this.recorder.record(tx, actor, ShareGrant, given, async () => {
      const share = await rowById(tx, CalibrationShare, input.shareId);
      if (!share) throw notFound('shareId', 'The share');
      if (given.audience === 'EVERY_LAB' && given.labIds.length > 0) throw new InputError('CONTRADICTION', 'labIds', 'names labs, and every lab is meant', 'Name labs, or share with every lab.');
      if (given.audience === 'LABS' && given.labIds.length === 0) throw new InputError('MISSING', 'labIds', 'names no lab', 'Name at least one lab.');
      if (given.labIds.includes(tx.labId)) throw new InputError('OWN_LAB', 'labIds', 'names your own lab', 'Name other labs: yours has it already.');
      if ((await labsByIds(tx, given.labIds)).length < given.labIds.length) throw new ProblemError('NOT_FOUND', 'labIds', 'One of these labs is not on this server.', 'Choose among those listed.');
      if (given.until && given.until <= new Date()) throw new InputError('OUT_OF_RANGE', 'until', 'lies in the past', 'Give a later day, or none.');
      return { uses: [{ kind: 'calibration_share', id: share.id, role: 'grants' }], action: 'grant' };
    });
  }

  withdraw(tx: Tx, actor: Actor, input: WithdrawGrantInput): Promise<Written<ShareGrantWithdrawal>> {
    const given = { id: input.id, grantId: input.grantId, reason: requireText('reason', input.reason) };
    return this.recorder.record(tx, actor, ShareGrantWithdrawal, given, async () => {
      const grant = await rowById(tx, ShareGrant, input.grantId);
      if (!grant) throw notFound('grantId', 'The grant');
      return {
        derived: { audience: grant.audience, labIds: grant.labIds },
        uses: [{ kind: 'share_grant', id: grant.id, role: 'withdraws' }],
        action: 'withdraw',
        reason: given.reason,
      };
    });
  }
}
