import { Injectable } from '@nestjs/common';
import { codeVersion } from '../../platform/config/code-version.js';
import type { Tx } from '../../platform/database/database.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { labelsOf, recordsReached, type RecordKey } from '../thread/thread.repository.js';
import { AGAIN, AS_RECORDED, type Recomputable } from './again.js';
import { differences, type ValueDifference } from './differences.js';

export interface RecomputedStepView extends RecordKey {
  readonly label: string;
  readonly codeVersionThen: string;
  readonly same: boolean;
  readonly differences: readonly ValueDifference[];
}

export interface RecomputationView {
  readonly same: boolean;
  readonly codeVersion: string;
  readonly steps: readonly RecomputedStepView[];
}

/** Results of one question: each costs up to a second. */
const STEPS_MOST = 500;
const DIFFERENCES_MOST = 20;

/** Proves that results follow from their facts: nothing is written. */
@Injectable()
export class RecomputeService {
  async recompute(tx: Tx, root: RecordKey): Promise<RecomputationView> {
    const reached = await recordsReached(tx, root, 'DOWN');
    const results = reached.filter(({ kind }) => kind in AGAIN).reverse();
    if (results.length > STEPS_MOST) {
      throw new ProblemError('INPUT', 'id', `It rests on ${results.length} results.`, `Recompute a record that rests on at most ${STEPS_MOST}.`);
    }
    const labels = await labelsOf(tx, [root, ...results]);
    if (!labels.has(root.id)) throw notFound('id', `The ${root.kind.replaceAll('_', ' ')}`);
    const steps: RecomputedStepView[] = [];
    for (const { kind, id } of results) steps.push({ kind, id, label: labels.get(id) ?? id, ...(await stepOf(tx, kind as Recomputable, id)) });
    return { same: steps.every(({ same }) => same), codeVersion, steps };
  }
}

/** One result computed again and compared with what was frozen. */
export async function stepOf(tx: Tx, kind: Recomputable, id: string): Promise<Pick<RecomputedStepView, 'codeVersionThen' | 'same' | 'differences'>> {
  const { codeVersionThen, then, now } = await AGAIN[kind](tx, id, AS_RECORDED);
  // As the database keeps it: what JSON does not carry is not part of a document.
  const found = differences(then, JSON.parse(JSON.stringify('document' in now ? now.document : now)));
  return { codeVersionThen, same: found.length === 0, differences: found.slice(0, DIFFERENCES_MOST) };
}
