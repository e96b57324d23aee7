import { Args, Context, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import { InputError } from '#libs/quantity';
import type { LedgerException } from '../../generated/schema.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { personOf } from '../../platform/graphql/graphql.options.js';
import { formatMoment, parseMoment } from '../../platform/graphql/moment.js';
import { EXCEPTIONS } from '../thread/exceptions.js';
import { countExceptions, exceptionsAmong, ledgerActions, ledgerPage, type LedgerFilter, type LedgerRow } from '../thread/exceptions.repository.js';
import { describe, type Description } from '../thread/thread.repository.js';
import { placesOf, tokensOfEntries } from './ledger.repository.js';

interface LedgerQuestion extends Omit<LedgerFilter, 'from' | 'until'> {
  readonly from?: string | null;
  readonly until?: string | null;
}

interface EntryView extends Omit<LedgerRow, 'recordedAt' | 'contentHash'> {
  readonly recordedAt: string;
  readonly contentHash: string;
  readonly lateAfterMin: number;
}

/** A year: later than that is as late as anything. */
const LATEST_MIN = 525_600;

function filterOf({ from, until, ...rest }: LedgerQuestion): LedgerFilter {
  if (!Number.isInteger(rest.lateAfterMin) || rest.lateAfterMin < 1 || rest.lateAfterMin > LATEST_MIN) {
    throw new InputError('OUT_OF_RANGE', 'lateAfterMin', `is ${rest.lateAfterMin} min`, `Give whole minutes from 1 to ${LATEST_MIN}.`);
  }
  return { ...rest, from: from ? parseMoment('from', from).at : null, until: until ? parseMoment('until', until).at : null };
}

@Resolver()
export class LedgerPageResolver {
  @Query()
  async ledger(@Args() { first, after, ...question }: LedgerQuestion & { first: number; after?: string | null }, @Context() context: RequestContext): Promise<object> {
    const page = await ledgerPage(await context.read(), filterOf(question), first, after ?? null);
    const nodes = page.nodes.map((row): EntryView => ({
      ...row, recordedAt: formatMoment(row.recordedAt), contentHash: row.contentHash.toString('hex'), lateAfterMin: question.lateAfterMin,
    }));
    return { ...page, nodes };
  }

  @Query()
  async ledgerExceptions(@Args() question: LedgerQuestion, @Context() context: RequestContext): Promise<{ exception: LedgerException; count: number }[]> {
    const counts = await countExceptions(await context.read(), filterOf(question));
    return EXCEPTIONS.map((exception) => ({ exception, count: counts.get(exception) ?? 0 }));
  }

  @Query('ledgerActions')
  async actions(@Context() context: RequestContext): Promise<string[]> {
    return ledgerActions(await context.read());
  }
}

@Resolver('LedgerEntry')
export class LedgerEntryResolver {
  @ResolveField()
  person(@Parent() { recordedBy }: EntryView, @Context() context: RequestContext): Promise<unknown> {
    return personOf(context, recordedBy);
  }

  @ResolveField()
  throughToken(@Parent() { id }: EntryView, @Context() context: RequestContext): Promise<string | null> {
    return context.load.batch('through token', id, async (tx, ids) => {
      const tokens = await tokensOfEntries(tx, ids);
      return ids.map((wanted) => tokens.get(wanted) ?? null);
    });
  }

  @ResolveField()
  place(@Parent() { id }: EntryView, @Context() context: RequestContext): Promise<number | null> {
    return context.load.batch('place', id, async (tx, ids) => {
      const places = await placesOf(tx, ids);
      return ids.map((wanted) => places.get(wanted) ?? null);
    });
  }

  @ResolveField()
  async label(@Parent() entry: EntryView, @Context() context: RequestContext): Promise<string> {
    return (await told(entry, context))?.label ?? entry.subjectKind.replaceAll('_', ' ');
  }

  @ResolveField()
  async summary(@Parent() entry: EntryView, @Context() context: RequestContext): Promise<string> {
    return (await told(entry, context))?.summary ?? '';
  }

  @ResolveField()
  exceptions(@Parent() entry: EntryView, @Context() context: RequestContext): Promise<LedgerException[]> {
    return context.load.batch(`exceptions ${entry.lateAfterMin}`, keyOf(entry), async (tx, keys) => {
      const found = await exceptionsAmong(tx, keys.map(recordOf), entry.lateAfterMin);
      return keys.map((key) => found.get(recordOf(key).id) ?? []);
    });
  }
}

const keyOf = ({ subjectKind, subjectId }: EntryView): string => `${subjectKind} ${subjectId}`;
const recordOf = (key: string): { kind: string; id: string } => ({ kind: key.split(' ')[0]!, id: key.split(' ')[1]! });

const told = (entry: EntryView, context: RequestContext): Promise<Description | null> =>
  context.load.batch('told', keyOf(entry), async (tx, keys) => {
    const descriptions = await describe(tx, keys.map(recordOf));
    return keys.map((key) => descriptions.get(recordOf(key).id) ?? null);
  });
