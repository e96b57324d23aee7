import { useLazyQuery } from '@apollo/client/react';
import { Differing } from '../../../ui/differing.js';
import { Section } from '../../../ui/page.js';
import { Action, Failed, Notice } from '../../../ui/words.js';
import { RecomputeThread } from '../documents.js';

/** Every result of the thread computed anew from the facts it used, and told value by value where it differs. */
export function Recomputed({ kind, id }: { readonly kind: string; readonly id: string }) {
  const [run, { data, loading, error }] = useLazyQuery(RecomputeThread, { fetchPolicy: 'no-cache' });
  const again = () => void run({ variables: { kind, id } });
  const outcome = data?.recompute;
  const differing = outcome?.steps.filter(({ same }) => !same) ?? [];
  return (
    <Section title="Recompute" lead="Computes every result of this thread anew from the facts it used then, and compares it with what was frozen, value by value."
      actions={<Action kind="plain" waiting={loading} onClick={again}>{outcome ? 'Recompute again' : 'Recompute now'}</Action>}>
      {error ? <Failed what="the comparison" again={again} /> : null}
      {outcome?.steps.length === 0 ? <p role="status">There is no result in this thread to compute anew.</p> : null}
      {outcome && outcome.steps.length > 0 && outcome.same ? <Notice tone="calm" title={`All ${outcome.steps.length} results came out the same, to the last digit.`}>Computed now by {outcome.codeVersion}.</Notice> : null}
      {differing.length > 0 && outcome ? <Notice tone="alarm" title={`${differing.length} of ${outcome.steps.length} results came out differently.`}>Computed now by {outcome.codeVersion}. Where the code then was another, the difference may come from it.</Notice> : null}
      {differing.map((step) => <Differing key={step.id} step={step} />)}
    </Section>
  );
}
