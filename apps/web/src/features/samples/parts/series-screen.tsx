import { useQuery } from '@apollo/client/react';
import { Navigate, useParams } from 'react-router';
import { Back, Page, Strip } from '../../../ui/page.js';
import { Empty, Failed, Waiting } from '../../../ui/words.js';
import { DiscOfSeries } from '../documents.js';

/** An RWC series is shown, and computed anew, on its disc's page. */
export function SeriesScreen() {
  const { id = '' } = useParams();
  const { data, error, refetch } = useQuery(DiscOfSeries, { variables: { id } });
  if (data?.rwcSeries) return <Navigate to={`/samples/disc/${data.rwcSeries.disc.id}`} replace />;
  return (
    <Page title="RWC series" margin={<Back to="/samples">Samples</Back>}>
      <Strip>{data ? <Empty title="No RWC series of this lab has this address." /> : error ? <Failed what="this RWC series" again={() => void refetch()} /> : <Waiting what="the RWC series" />}</Strip>
    </Page>
  );
}
