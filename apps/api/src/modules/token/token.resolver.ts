import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import type { CreateAccessTokenInput, RevokeAccessTokenInput } from '../../generated/schema.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { personOf } from '../../platform/graphql/graphql.options.js';
import { formatMoment } from '../../platform/graphql/moment.js';
import { labById } from '../../platform/identity/account.repository.js';
import { toAccessToken, type AccessTokenView } from './token.mapper.js';
import { TokenService } from './token.service.js';

@Resolver()
export class TokenRootResolver {
  constructor(private readonly service: TokenService) {}

  @Query()
  async accessTokens(@Context() context: RequestContext): Promise<AccessTokenView[]> {
    return (await this.service.tokens(await context.read(), context.member)).map((told) => toAccessToken(told, context.now));
  }

  @Query()
  async tokenInUse(@Context() context: RequestContext): Promise<object | null> {
    const { token, labId, accountId } = context.member;
    if (!token) return null;
    return { ...token, expiresAt: formatMoment(token.expiresAt), lab: await labById(await context.read(), labId), person: () => personOf(context, accountId) };
  }

  @Mutation()
  createAccessToken(@Args('input') input: CreateAccessTokenInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, secret, replayed } = await context.write((tx) => this.service.create(tx, context.member, input, context.now));
      return { accessToken: toAccessToken({ token: row, revocation: null }, context.now), secret, replayed };
    });
  }

  @Mutation()
  revokeAccessToken(@Args('input') input: RevokeAccessTokenInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { replayed, ...told } = await context.write((tx) => this.service.revoke(tx, context.member, input));
      return { accessToken: toAccessToken(told, context.now), replayed };
    });
  }
}

@Resolver('AccessToken')
export class AccessTokenResolver {
  @ResolveField()
  revokedBy(@Parent() { revokedById }: AccessTokenView, @Context() context: RequestContext): Promise<object> | null {
    return revokedById === null ? null : personOf(context, revokedById);
  }
}
