import { Args, Context, Mutation, Query, Resolver, Subscription } from '@nestjs/graphql';
import type { AddMemberInput } from '../../generated/schema.js';
import { codeVersion } from '../../platform/config/code-version.js';
import { Announcer } from '../../platform/database/announcer.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { formatMoment } from '../../platform/graphql/moment.js';
import { accountById, labById, membersOfLab, membershipsOf } from '../../platform/identity/account.repository.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Sessions } from '../../platform/identity/sessions.js';
import type { Tx } from '../../platform/database/database.js';
import { Database } from '../../platform/database/database.js';
import { LabService } from './lab.service.js';

async function viewOfMe(tx: Tx, actor: Actor): Promise<object> {
  const account = await accountById(tx, actor.accountId);
  const memberships = await membershipsOf(tx, actor.accountId);
  const labs = memberships.map(({ labId, labName }) => ({ id: labId, name: labName }));
  return {
    person: { id: actor.accountId, displayName: actor.displayName },
    email: account!.email,
    lab: labs.find(({ id }) => id === actor.labId),
    roles: actor.roles,
    labs,
  };
}

interface SignInArgs {
  readonly email: string;
  readonly password: string;
  readonly code?: string | null;
}

@Resolver()
export class LabResolver {
  constructor(
    private readonly sessions: Sessions,
    private readonly labs: LabService,
    private readonly announcer: Announcer,
    private readonly database: Database,
  ) {}

  @Query()
  async me(@Context() context: RequestContext): Promise<object | null> {
    return context.actor ? viewOfMe(await context.read(), context.actor) : null;
  }

  @Query()
  async people(@Context() context: RequestContext): Promise<object[]> {
    const members = await membersOfLab(await context.read());
    return members.map(({ id, displayName, email, roles }) => ({ person: { id, displayName }, email, roles }));
  }

  @Query()
  async about(@Context() context: RequestContext): Promise<object> {
    const lab = context.actor ? await labById(await context.read(), context.actor.labId) : null;
    return { codeVersion, serverTime: formatMoment(new Date()), demo: lab?.demo ?? false };
  }

  @Mutation()
  signIn(@Args() { email, password, code }: SignInArgs, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { actor } = await this.sessions.signIn(email, password, code, context.response!);
      return { me: await this.meOf(actor) };
    });
  }

  @Mutation()
  async signOut(@Context() context: RequestContext): Promise<boolean> {
    if (context.sessionHash) await this.sessions.signOut(context.sessionHash, context.response!);
    return true;
  }

  @Mutation()
  enterLab(@Args('labId') labId: string, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const actor = await this.sessions.enterLab(context.sessionHash!, context.member, labId);
      return { me: await this.meOf(actor) };
    });
  }

  @Mutation()
  addMember(@Args('input') input: AddMemberInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { id, displayName, email, roles } = await context.write((tx) => this.labs.addMember(tx, input));
      return { member: { person: { id, displayName }, email, roles } };
    });
  }

  @Mutation()
  changePassword(@Args('current') current: string, @Args('next') next: string, @Context() context: RequestContext): Promise<object> {
    return settle(
      async () => {
        await context.write((tx) => this.labs.changePassword(tx, context.member, current, next));
        return { changed: true };
      },
      { changed: false },
    );
  }

  @Subscription('recorded', { resolve: (announcement: object) => announcement })
  recorded(@Context() context: RequestContext): AsyncIterableIterator<object> {
    return this.announcer.listen(context.member.labId);
  }

  /** The session is new or moved: the request's own snapshot is fenced to where it was before. */
  private meOf(actor: Actor): Promise<object> {
    return this.database.write({ labId: actor.labId, accountId: actor.accountId }, (tx) => viewOfMe(tx, actor));
  }
}
