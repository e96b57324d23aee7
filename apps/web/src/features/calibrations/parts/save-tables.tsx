import { useApolloClient } from '@apollo/client/react';
import { useState } from 'react';
import { saveFile } from '../../../ui/save-file.js';
import { Action, Notice } from '../../../ui/words.js';
import { TidyTables } from '../documents.js';

/** Everything on the page as CSV tables with a dictionary of their columns, in one ZIP. */
export function SaveTables({ kind, id }: { readonly kind: 'calibration_version' | 'transfer_study'; readonly id: string }) {
  const client = useApolloClient();
  const [making, setMaking] = useState(false);
  const [failed, setFailed] = useState(false);
  const save = async (): Promise<void> => {
    setMaking(true);
    setFailed(false);
    try {
      const { data } = await client.query({ query: TidyTables, variables: { kind, id }, fetchPolicy: 'no-cache' });
      if (data?.tidyTables) saveFile(data.tidyTables.file);
    } catch {
      setFailed(true);
    } finally {
      setMaking(false);
    }
  };
  return (
    <>
      <Action kind="plain" waiting={making} onClick={() => void save()}>Save as tables</Action>
      {failed ? <Notice tone="alarm" title="The tables were not made.">Look whether the network is there, then ask again.</Notice> : null}
    </>
  );
}
