import { Args, Context, Mutation, Parent, ResolveField, Resolver } from '@nestjs/graphql';
import { Database } from '../../platform/database/database.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { accountById } from '../../platform/identity/account.repository.js';
import { SecondFactors } from '../../platform/identity/second-factors.js';
import { codeSvg } from '../../platform/paper/code.js';
import { LabService } from '../lab/lab.service.js';

@Resolver()
export class SecondFactorResolver {
  constructor(
    private readonly factors: SecondFactors,
    private readonly labs: LabService,
  ) {}

  @Mutation()
  startSecondFactor(@Args('password') password: string, @Context() context: RequestContext): Promise<object> {
    return settle(() => context.write(async (tx) => {
      const { accountId } = context.member;
      await this.labs.confirmPassword(tx, context.member, 'password', password);
      const { secret, uri } = await this.factors.start(tx, accountId, (await accountById(tx, accountId))!.email);
      return { secret, uri, squareCode: codeSvg(uri) };
    }));
  }

  @Mutation()
  confirmSecondFactor(@Args('code') code: string, @Context() context: RequestContext): Promise<object> {
    return settle(() => context.write(async (tx) => ({ recoveryCodes: await this.factors.confirm(tx, context.member.accountId, code) })));
  }

  @Mutation()
  removeSecondFactor(@Args('password') password: string, @Args('code') code: string, @Context() context: RequestContext): Promise<object> {
    return settle(
      () => context.write(async (tx) => {
        await this.labs.confirmPassword(tx, context.member, 'password', password);
        await this.factors.remove(tx, context.member.accountId, code);
        return { removed: true };
      }),
      { removed: false },
    );
  }
}

@Resolver('Me')
export class MeResolver {
  constructor(
    private readonly factors: SecondFactors,
    private readonly database: Database,
  ) {}

  /** Asked right after a sign-in too, when the request itself is fenced to nobody yet. */
  @ResolveField()
  secondFactor(@Parent() { person }: { readonly person: { readonly id: string } }): Promise<object> {
    return this.database.write({ labId: null, accountId: person.id }, (tx) => this.factors.stateOf(tx, person.id));
  }
}
