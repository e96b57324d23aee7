import { Injectable } from '@nestjs/common';
import { codeVersion } from '../../platform/config/code-version.js';
import type { Tx } from '../../platform/database/database.js';
import { membersWithRole } from '../../platform/identity/account.repository.js';
import type { Actor } from '../../platform/identity/actor.js';
import type { JobRow } from '../../platform/jobs/job.repository.js';
import { Jobs, type JobResult, type RunningJob } from '../../platform/jobs/jobs.js';
import { RESULT_KINDS } from '../amendment/amendment.repository.js';
import { Notices } from '../notice/notices.service.js';
import { labelsOf } from '../thread/thread.repository.js';
import { stepOf, type RecomputedStepView } from './recompute.service.js';
import { differedBefore, insertRun, resultsOf } from './recompute.repository.js';

const JOB = 'recompute-all';
/** Of those that differ, so many are kept with their values. */
const KEPT_MOST = 200;
/** So many are named in a notice. */
const NAMED_MOST = 4;
/** Who looks after it that results follow from their facts. */
const TOLD: readonly ['MANAGER', 'AUDITOR'] = ['MANAGER', 'AUDITOR'];

/** Computes every result of a lab again, each night and on request, and tells when one does not come out as it was frozen. */
@Injectable()
export class RecomputeAllService {
  constructor(
    private readonly jobs: Jobs,
    private readonly notices: Notices,
  ) {
    jobs.define<unknown>({ name: JOB, run: (_, job) => this.run(job), nightly: { hour: 1, minute: 30, label: 'Compute all results again' } });
  }

  start(tx: Tx, actor: Actor, id: string): Promise<JobRow> {
    return this.jobs.start(tx, actor, JOB, 'Compute all results again', {}, id);
  }

  private async run(job: RunningJob): Promise<(tx: Tx) => Promise<JobResult>> {
    const results = await job.read((tx) => resultsOf(tx, RESULT_KINDS));
    const differing: RecomputedStepView[] = [];
    let differCount = 0;
    for (const [i, { kind, id }] of results.entries()) {
      job.signal.throwIfAborted();
      job.progress(i / results.length, `Computes ${i + 1} of ${results.length} results`);
      // A snapshot each: facts and results never change, and a long one would keep the database from tidying up.
      const step = await job.read(async (tx) => ({ kind, id, label: (await labelsOf(tx, [{ kind, id }])).get(id) ?? id, ...(await stepOf(tx, kind, id)) }));
      if (!step.same) differCount += 1;
      if (!step.same && differing.length < KEPT_MOST) differing.push(step);
      // Requests that came in meanwhile go first.
      await new Promise(setImmediate);
    }
    return async (tx) => {
      await this.tell(tx, differing, differCount, results.length);
      await insertRun(tx, { id: job.id, startedBy: job.actor?.accountId ?? null, codeVersion, resultCount: results.length, differCount, differing });
      return { outcome: { resultCount: results.length, differCount, codeVersion } };
    };
  }

  /** Told when something differs that did not the time before. */
  private async tell(tx: Tx, differing: readonly RecomputedStepView[], differCount: number, resultCount: number): Promise<void> {
    const known = await differedBefore(tx);
    const fresh = differing.filter(({ id }) => !known.has(id));
    const [first] = fresh;
    if (!first) return;
    const named = fresh.slice(0, NAMED_MOST).map(({ label }) => label).join(', ');
    const more = fresh.length > NAMED_MOST ? ` and ${fresh.length - NAMED_MOST} more` : '';
    const byOtherCode = fresh.every(({ codeVersionThen }) => codeVersionThen !== codeVersion);
    await this.notices.tell(tx, {
      kind: 'RECOMPUTE_DIFFERS',
      text: `Computed again, ${differCount} of ${resultCount} results are not as they were frozen. New among them: ${named}${more}. ${
        byOtherCode
          ? 'They were computed by another version of the code: read what changed between the two.'
          : 'The code is the same: facts or results may have been altered. Run the check of the record and compare with a kept checkpoint.'}`,
      subjectKind: first.kind,
      subjectId: first.id,
      accountIds: await membersWithRole(tx, TOLD),
    });
  }
}
