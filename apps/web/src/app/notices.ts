import { useQuery } from '@apollo/client/react';
import type { UnseenNoticesQuery } from '../generated/graphql.js';
import { ofKind, useLive } from '../ui/live.js';
import { UnseenNotices } from './documents.js';

export type NoticeSeen = UnseenNoticesQuery['notices'][number];

const concerns = ofKind('notice');

/** What the person signed in has not marked as seen yet, newest first; up to date while the page is open. */
export function useNotices(): { readonly notices: readonly NoticeSeen[]; readonly refetch: () => Promise<unknown> } {
  const { data, refetch } = useQuery(UnseenNotices);
  useLive(refetch, concerns);
  return { notices: data?.notices ?? [], refetch };
}
