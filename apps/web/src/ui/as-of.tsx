import type { OperationVariables, TypedDocumentNode } from '@apollo/client';
import { useAsOf } from '../offline/stored-reads.js';
import { Strip } from './page.js';
import { Moment } from './time.js';
import { Notice } from './words.js';

/** Where an answer comes from this device, because the server gives none: as of when it stands. */
export function AsOf<V extends OperationVariables>({ document, variables }: { readonly document: TypedDocumentNode<unknown, V>; readonly variables?: V }) {
  const asOf = useAsOf(document, variables);
  if (asOf === null) return null;
  return <Strip><Notice tone="ask" title="Shown from this device."><p>As of <Moment at={asOf} />: what was recorded since, by you or by others, is not in it.</p></Notice></Strip>;
}
