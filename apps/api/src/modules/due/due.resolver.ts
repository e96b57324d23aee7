import { Args, Context, Query, Resolver } from '@nestjs/graphql';
import type { DueKind, Role } from '../../generated/schema.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { formatMoment, parseMoment } from '../../platform/graphql/moment.js';
import { dueUntil } from './due.repository.js';

/** How far ahead the board looks when nobody says. */
const AHEAD_MS = 7 * 24 * 3_600_000;

const told: Readonly<Record<DueKind, { what: (label: string) => string; roles: readonly Role[] }>> = {
  NEXT_READING: { what: (label) => `Next reading of run ${label}`, roles: ['TECHNICIAN', 'RESEARCHER', 'MANAGER'] },
  RUN_TO_CLOSE: { what: (label) => `Close run ${label}: nothing was weighed for half a day`, roles: ['TECHNICIAN', 'RESEARCHER', 'MANAGER'] },
  RUN_TO_RELEASE: { what: (label) => `Release run ${label}: all dry masses are in`, roles: ['RESEARCHER', 'MANAGER'] },
  OVEN_CHECK: { what: (label) => `Weigh the discs of oven cycle ${label}`, roles: ['TECHNICIAN', 'RESEARCHER', 'MANAGER'] },
  INSTRUMENT_CHECK: { what: (label) => `Check ${label}`, roles: ['TECHNICIAN', 'RESEARCHER', 'MANAGER', 'FIELD_ENGINEER'] },
  REVIEW: { what: (label) => `Review ${label}`, roles: ['RESEARCHER', 'MANAGER', 'FIELD_ENGINEER'] },
  APPROVAL: { what: (label) => `Approve ${label}`, roles: ['RESEARCHER', 'MANAGER'] },
  TRIP_TO_DECIDE: { what: (label) => `Decide on the trip of ${label}`, roles: ['FIELD_ENGINEER', 'RESEARCHER', 'MANAGER'] },
  STALE_RESULT: { what: (label) => `Compute the RWC of ${label} anew: a fact under it was amended`, roles: ['TECHNICIAN', 'RESEARCHER', 'MANAGER'] },
  CERTIFICATE_ENDS: { what: (label) => `The certificate of unit ${label} runs out`, roles: ['FIELD_ENGINEER', 'RESEARCHER', 'MANAGER'] },
};

@Resolver()
export class DueResolver {
  @Query()
  async due(@Args('until') until: string | undefined, @Context() context: RequestContext): Promise<object[]> {
    const end = until ? parseMoment('until', until).at : new Date(context.now.getTime() + AHEAD_MS);
    const rows = await dueUntil(await context.read(), context.now, end);
    return rows.map(({ kind, dueAt, subjectKind, subjectId, label }) => ({
      kind,
      what: told[kind].what(label),
      dueAt: formatMoment(dueAt),
      subject: { kind: subjectKind, id: subjectId, label },
      roles: told[kind].roles,
    }));
  }
}
