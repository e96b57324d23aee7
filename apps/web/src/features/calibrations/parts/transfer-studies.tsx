import { useQuery } from '@apollo/client/react';
import { Link } from 'react-router';
import type { TransferStudyListQuery } from '../../../generated/graphql.js';
import { useLive } from '../../../ui/live.js';
import { Section } from '../../../ui/page.js';
import { StaleMark, TransferMark } from '../../../ui/state.js';
import { Table } from '../../../ui/table.js';
import { Moment } from '../../../ui/time.js';
import { Empty, Failed, Waiting } from '../../../ui/words.js';
import { TransferStudyList } from '../transfer-documents.js';

type Study = TransferStudyListQuery['transferStudies'][number];

const columns = [
  { head: 'Other leaves', cell: ({ id, crop, readings, thickness }: Study) => <Link to={`/calibrations/transfer/${id}`}>{readings?.leafCount ?? thickness?.leafCount} leaves of {crop.name}</Link> },
  { head: 'Verdict', cell: ({ readings, stale }: Study) => <>{readings ? <TransferMark verdict={readings.verdict} /> : 'expected from water thickness'}{stale ? <><br /><StaleMark /></> : null}</> },
  { head: 'Margin, RWC points', number: true, cell: ({ readings }: Study) => (readings ? `± ${readings.marginPoints}` : '–') },
  { head: 'Studied', cell: ({ recordedAt, recordedBy }: Study) => <><Moment at={recordedAt} />, {recordedBy.displayName}</> },
] as const;

/** Where this version was tried on leaves it had not seen. */
export function TransferStudiesSection({ versionId, mayStudy, whyNot }: { readonly versionId: string; readonly mayStudy: boolean; readonly whyNot: string | null }) {
  const { data, error, refetch } = useQuery(TransferStudyList, { variables: { versionId } });
  useLive(() => refetch(), ({ kind }) => ['transfer_study', 'amendment'].includes(kind));
  return (
    <Section title="Tried on other leaves" lead="Whether it holds for leaves of another crop, rig or season, within a margin stated beforehand.">
      {!data ? (error ? <Failed what="the studies" again={() => void refetch()} /> : <Waiting what="the studies" />)
        : data.transferStudies.length === 0 && whyNot ? <p>{whyNot}</p>
          : data.transferStudies.length === 0 ? <Empty title="It was not tried on other leaves yet.">{mayStudy ? <p><Link to={`/calibrations/version/${versionId}/transfer`}>Try it on other leaves</Link></p> : null}</Empty>
          : <Table caption="Transfer studies of this version, newest first" columns={columns} rows={data.transferStudies} keyOf={({ id }) => id} />}
    </Section>
  );
}
