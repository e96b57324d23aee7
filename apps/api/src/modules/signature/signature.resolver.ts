import { Args, Context, Mutation, Resolver } from '@nestjs/graphql';
import type { ApprovalState, SignInput } from '../../generated/schema.js';
import { settle } from '../../platform/errors/problem.js';
import { RequestContext } from '../../platform/graphql/context.js';
import { Signature } from './signature.entity.js';
import { toSignature, type SignatureView } from './signature.mapper.js';
import { approvalStates, type Signable } from './signature.repository.js';
import { SignatureService } from './signature.service.js';

/** Signatures on a result, oldest first; in bulk for all results of the request. */
export async function signaturesOn(context: RequestContext, subjectId: string): Promise<SignatureView[]> {
  return (await context.load.many(Signature, 'subjectId', subjectId, 'recorded_at')).map(toSignature);
}

export const approvalStateOf = (context: RequestContext, kind: Signable, id: string): Promise<ApprovalState> =>
  context.load.batch(`approval ${kind}`, id, async (tx, ids) => {
    const states = await approvalStates(tx, kind, ids);
    return ids.map((wanted) => states.get(wanted) ?? 'DRAFT');
  });

@Resolver()
export class SignatureResolver {
  constructor(private readonly signatures: SignatureService) {}

  @Mutation()
  sign(@Args('input') input: SignInput, @Context() context: RequestContext): Promise<object> {
    return settle(async () => {
      const { row, replayed } = await context.write((tx) => this.signatures.sign(tx, context.member, input));
      return { signature: toSignature(row), replayed };
    });
  }
}
