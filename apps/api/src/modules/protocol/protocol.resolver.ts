import { Args, Context, Mutation, Parent, Query, ResolveField, Resolver } from '@nestjs/graphql';
import type { ApprovalState, RecordProtocolInput } from '../../generated/schema.js';
import { rowById } from '../../platform/database/rows.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import type { SignatureView } from '../signature/signature.mapper.js';
import { approvalStateOf, signaturesOn } from '../signature/signature.resolver.js';
import { Protocol } from './protocol.entity.js';
import { toProtocol, type ProtocolView } from './protocol.mapper.js';
import { HOUSE_PARAMETERS, type Parameters } from './protocol-parameters.js';
import { protocolsNamed } from './protocol.repository.js';
import { ProtocolService } from './protocol.service.js';

@Resolver()
export class ProtocolRootResolver {
  constructor(private readonly service: ProtocolService) {}

  @Query()
  async protocols(@Args('name') name: string | undefined, @Context() context: RequestContext): Promise<ProtocolView[]> {
    return (await protocolsNamed(await context.read(), name ?? null)).map(toProtocol);
  }

  @Query()
  async protocol(@Args('id') id: string, @Context() context: RequestContext): Promise<ProtocolView | null> {
    const row = await rowById(await context.read(), Protocol, id);
    return row && toProtocol(row);
  }

  @Query()
  houseParameters(): Parameters {
    return HOUSE_PARAMETERS;
  }

  @Mutation()
  recordProtocol(@Args('input') input: RecordProtocolInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.service.record(tx, context.member, input));
      return { protocol: toProtocol(row), replayed };
    });
  }
}

@Resolver('Protocol')
export class ProtocolResolver {
  @ResolveField()
  state(@Parent() parent: ProtocolView, @Context() context: RequestContext): Promise<ApprovalState> {
    return approvalStateOf(context, 'protocol', parent.id);
  }

  @ResolveField()
  signatures(@Parent() parent: ProtocolView, @Context() context: RequestContext): Promise<SignatureView[]> {
    return signaturesOn(context, parent.id);
  }

  @ResolveField()
  async versions(@Parent() parent: ProtocolView, @Context() context: RequestContext): Promise<ProtocolView[]> {
    return (await context.load.many(Protocol, 'name', parent.name, 'version DESC')).map(toProtocol);
  }
}
