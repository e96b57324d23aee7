import { useApolloClient, useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { forOffline, useAsOf } from '../../../offline/stored-reads.js';
import { opensWithoutServer } from '../../../offline/reach.js';
import { momentNow, Moment } from '../../../ui/time.js';
import { Action, Notice } from '../../../ui/words.js';
import { InstallationPage, UnitsToTake } from '../documents.js';
import { ReportsOfInstallation } from '../zone-documents.js';

/** The certified units with their certificates and the plants, as this device holds them for work without the server. */
export function useTaken() {
  const { data, loading } = useQuery(UnitsToTake, { context: forOffline });
  const asOf = useAsOf(UnitsToTake);
  const certificates = data?.thresholdCertificates ?? [];
  const units = [...new Map(certificates.map(({ deviceUnit }) => [deviceUnit.id, deviceUnit])).values()].map((unit) => ({
    ...unit, certificates: certificates.filter(({ deviceUnit }) => deviceUnit.id === unit.id),
  }));
  return { units, plants: data?.plants.nodes ?? [], asOf, loading };
}

export type UnitTaken = ReturnType<typeof useTaken>['units'][number];

/** Before one goes where there is no network: reads what is needed there, so that this device holds it. */
export function TakeAlong({ installationIds }: { readonly installationIds: readonly string[] }) {
  const client = useApolloClient();
  const [state, setState] = useState<{ readonly done: number; readonly at: string | null; readonly failed: boolean } | null>(null);
  const take = async () => {
    setState({ done: 0, at: null, failed: false });
    try {
      await client.query({ query: UnitsToTake, fetchPolicy: 'network-only', context: forOffline });
      for (const [index, id] of installationIds.entries()) {
        await client.query({ query: InstallationPage, variables: { id }, fetchPolicy: 'network-only', context: forOffline });
        await client.query({ query: ReportsOfInstallation, variables: { id }, fetchPolicy: 'network-only', context: forOffline });
        setState({ done: index + 1, at: null, failed: false });
      }
      setState({ done: installationIds.length, at: momentNow(), failed: false });
    } catch {
      setState((before) => ({ done: before?.done ?? 0, at: null, failed: true }));
    }
  };
  const count = installationIds.length === 1 ? '1 installation' : `${installationIds.length} installations`;
  return (
    <>
      <p>Where there is no network, installing, trips, reports, resets and field checks are kept on this device and sent later. What this device has read before can be seen there.</p>
      {opensWithoutServer() ? null : <p>From this address the browser cannot open these pages without the server: leave this one open.</p>}
      <div><Action kind="plain" onClick={() => void take()} waiting={state !== null && state.at === null && !state.failed}>Take along {count} and the certified units</Action></div>
      <div role="status">
        {state?.at ? <p>On this device as of <Moment at={state.at} />: {count}, the certified units with their certificates, and the plants.</p> : null}
        {state && !state.at && !state.failed ? <p>{state.done} of {count}…</p> : null}
        {state?.failed ? <Notice tone="alarm" title="The server did not give all of it.">Look whether the network is there, then take it along again.</Notice> : null}
      </div>
    </>
  );
}
