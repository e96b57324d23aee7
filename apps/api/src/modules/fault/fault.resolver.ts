import { Args, Context, Query, Resolver } from '@nestjs/graphql';
import { InputError } from '#libs/quantity';
import { rowById } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { staleAmong } from '../amendment/amendment.repository.js';
import { Instrument } from '../instrument/instrument.entity.js';
import { labelsOf, type RecordKey } from '../thread/thread.repository.js';
import { factsOf, touchedBy } from './fault.repository.js';

const FACTS_TOLD = 500;
const TOUCHED_MOST = 5_000;

interface FaultQuestion {
  readonly instrumentId: string;
  readonly from: string;
  readonly to: string;
}

@Resolver()
export class FaultResolver {
  @Query()
  async touchedBy(@Args() question: FaultQuestion, @Context() context: RequestContext): Promise<object> {
    const [from, to] = [parseMoment('from', question.from).at, parseMoment('to', question.to).at];
    if (from > to) throw new InputError('ORDER', 'to', 'is before the beginning of the span', 'Give the earlier moment as from.');
    const tx = await context.read();
    const instrument = await rowById(tx, Instrument, question.instrumentId);
    if (!instrument) throw notFound('instrumentId', 'The instrument');
    const facts = await factsOf(tx, instrument.kind, instrument.id, from, to);
    if (!facts) {
      throw new ProblemError('INPUT', 'instrumentId', `No fact names the ${instrument.kind.toLowerCase().replaceAll('_', ' ')} it was made with.`, 'Look for the trip tests of that time in the ledger.');
    }
    const reached = await touchedBy(tx, facts.map(({ id }) => id), TOUCHED_MOST + 1);
    const touched = reached.slice(0, TOUCHED_MOST);
    const told = facts.slice(0, FACTS_TOLD);
    const labels = await labelsOf(tx, [...told, ...touched]);
    const stale = await staleAmong(tx, touched.map(({ id }) => id));
    const named = ({ kind, id }: RecordKey): object => ({ kind, id, label: labels.get(id) ?? id });
    return {
      factCount: facts.length,
      facts: told.map(named),
      touched: touched.map((record) => ({ ...named(record), restsOn: record.restsOn, stale: stale.has(record.id) })),
      truncated: reached.length > TOUCHED_MOST,
    };
  }
}
