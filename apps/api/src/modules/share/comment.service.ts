import { Injectable } from '@nestjs/common';
import { InputError } from '#libs/quantity';
import type { RecordCalibrationCommentInput } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Use, type Written } from '../../platform/ledger/recorder.js';
import { CalibrationVersion } from '../calibration/calibration.entity.js';
import { CalibrationComment } from './comment.entity.js';
import { comments, follow, shareSeen, unfollow } from './comment.repository.js';

const LONGEST = 2_000;

/** What people of several labs say and ask about a calibration, and whether they want to hear of it. */
@Injectable()
export class CommentService {
  constructor(private readonly recorder: Recorder) {}

  record(tx: Tx, actor: Actor, input: RecordCalibrationCommentInput): Promise<Written<CalibrationComment>> {
    const text = input.text.trim();
    const given = { id: input.id, shareId: input.shareId ?? null, question: input.question ?? false, commentText: text, answersId: input.answersId ?? null };
    return this.recorder.record(tx, actor, CalibrationComment, given, async () => {
      if (!text) throw new InputError('MISSING', 'text', 'is empty', 'Write what you want to say or ask.');
      if (text.length > LONGEST) throw new InputError('TOO_LONG', 'text', `has ${text.length} characters`, `Use at most ${LONGEST}.`);
      if ((input.shareId == null) === (input.calibrationVersionId == null)) throw new InputError('MISSING', 'shareId', 'names neither or both of share and version', 'Name one of them.');
      const about = await aboutOf(tx, input);
      if (input.answersId) {
        const known = input.shareId ? await comments(tx, 'share', [input.shareId]) : await comments(tx, 'version', [about.calibrationVersionId]);
        if (!known.some(({ id }) => id === input.answersId)) throw notFound('answersId', 'The question');
      }
      // What another lab has is no record of this one: lineage reaches to one's own records only.
      const uses: Use[] = about.giverLabId !== tx.labId ? [] : [
        { kind: 'calibration_version', id: about.calibrationVersionId, role: 'about' },
        ...(input.shareId ? [{ kind: 'calibration_share', id: input.shareId, role: 'on' }] : []),
      ];
      return { derived: about, uses, action: input.answersId ? 'answer' : given.question ? 'ask' : 'comment' };
    });
  }

  /** @throws ProblemError `NOT_FOUND` for a share that is not open to this lab, whether it exists or not */
  async setFollowed(tx: Tx, actor: Actor, shareId: string, wanted: boolean): Promise<void> {
    const share = await shareSeen(tx, shareId);
    if (!share || share.labId === tx.labId) throw unseen();
    if (wanted) await follow(tx, actor, share.labId, shareId);
    else await unfollow(tx, actor, shareId);
  }
}

const unseen = (): ProblemError => new ProblemError('NOT_FOUND', 'shareId', 'No such calibration is shared with this lab.', 'Look at the list of what is shared, or ask the lab that has it.');

async function aboutOf(tx: Tx, { shareId, calibrationVersionId }: RecordCalibrationCommentInput): Promise<{ giverLabId: string; calibrationVersionId: string }> {
  if (shareId) {
    const share = await shareSeen(tx, shareId);
    if (!share) throw unseen();
    return { giverLabId: share.labId, calibrationVersionId: share.calibrationVersionId };
  }
  if (!(await rowById(tx, CalibrationVersion, calibrationVersionId!))) throw notFound('calibrationVersionId', 'The calibration version');
  return { giverLabId: tx.labId, calibrationVersionId: calibrationVersionId! };
}
