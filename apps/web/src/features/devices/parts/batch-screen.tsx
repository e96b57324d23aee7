import { useQuery } from '@apollo/client/react';
import { Link, useParams } from 'react-router';
import { formatNumber, formatPercentPlain } from '#libs/quantity';
import type { BatchPageQuery } from '../../../generated/graphql.js';
import { JobLine, useJob } from '../../../ui/job.js';
import { useLive } from '../../../ui/live.js';
import { Back, Facts, Page, Section, Strip } from '../../../ui/page.js';
import { threadPath } from '../../../ui/paths.js';
import { Rwc, rwcInterval } from '../../../ui/quantity.js';
import { ApprovalMark, DoneMark } from '../../../ui/state.js';
import { Table } from '../../../ui/table.js';
import { Moment } from '../../../ui/time.js';
import { ActionLink, Empty, Failed, Notice, Waiting } from '../../../ui/words.js';
import { BatchPage } from '../documents.js';
import { BiasCaution } from './bias-caution.js';
import { SignBatch } from './sign-batch.js';

type Outcome = NonNullable<BatchPageQuery['certificateBatch']>['outcomes'][number];

const columns = [
  { head: 'Unit', cell: ({ deviceUnit }: Outcome) => <Link to={`/devices/${deviceUnit.id}`}>{deviceUnit.label}</Link> },
  { head: 'Outcome', cell: ({ certificate, refusal }: Outcome) => (certificate ? <Link to={`/devices/certificate/${certificate.id}`}><ApprovalMark state={certificate.state} /></Link> : refusal ? <DoneMark done={false} word="refused" /> : 'not yet') },
  { head: 'Bias, V', number: true, cell: ({ certificate }: Outcome) => (certificate ? <strong>{certificate.biasV}</strong> : '') },
  { head: 'Threshold, nW', number: true, cell: ({ certificate }: Outcome) => (certificate ? formatNumber(certificate.thresholdPowerNw, 1) : '') },
  { head: 'Trips at RWC, 95 %', number: true, cell: ({ certificate }: Outcome) => (certificate ? rwcInterval(certificate.tripRwcLow, certificate.tripRwcHigh) : '') },
  { head: 'False, missed', number: true, cell: ({ certificate }: Outcome) => (!certificate ? '' : certificate.falseTripChance == null && certificate.missedTripChance == null ? 'not asked' : `${chance(certificate.falseTripChance)}, ${chance(certificate.missedTripChance)}`) },
  { head: 'To be read with it', cell: ({ certificate, refusal }: Outcome) => (refusal ? `${refusal.message} ${refusal.remedy}` : (certificate?.overrides ?? []).map(({ message }) => message).join(' ')) },
] as const;

const chance = (value: number | null | undefined): string => (value == null ? 'not asked' : formatPercentPlain(value, 0));

/** What somebody must look at stands before what went well. */
const refusedFirst = (outcomes: readonly Outcome[]): readonly Outcome[] => [...outcomes.filter(({ refusal }) => refusal), ...outcomes.filter(({ refusal }) => !refusal)];

/** What became of each unit of a lot that was certified at once. */
export function BatchScreen() {
  const { id = '' } = useParams();
  const { data, error, refetch } = useQuery(BatchPage, { variables: { id } });
  useLive(() => refetch(), ({ kind }) => ['threshold_certificate', 'certificate_refusal', 'signature'].includes(kind));
  const job = useJob(id, () => void refetch());
  const back = <Back to="/devices">Devices</Back>;
  if (!data) return <Page title="Certificates of a lot" margin={back}><Strip>{error ? <Failed what="these certificates" again={() => void refetch()} /> : <Waiting what="the certificates" />}</Strip></Page>;
  if (!data.certificateBatch) return <Page title="Certificates of a lot" margin={back}><Strip><Empty title="Nothing of this lab has this address." /></Strip></Page>;
  const { certificateBatch: batch } = data;
  const issued = batch.outcomes.filter(({ certificate }) => certificate).length;
  const refused = batch.outcomes.filter(({ refusal }) => refusal).length;
  const left = batch.outcomes.length - issued - refused;
  return (
    <Page title={`Certificates for ${batch.outcomes.length} units`} margin={back} lead={<>{issued} issued, {refused} refused{left > 0 ? `, ${left} not yet worked out` : ''}. Asked for <Moment at={batch.recordedAt} /> by {batch.recordedBy.displayName}.</>} actions={<ActionLink to={threadPath('certificate_batch', batch.id)}>Follow the thread</ActionLink>}>
      {left > 0 ? <Strip>{job && job.state !== 'DONE' ? <JobLine job={job} /> : <Notice tone="ask" title={`${left} units were not worked out.`}>Certify them again, as a batch of their own.</Notice>}
        {job?.state === 'CANCELLED' ? <p>What was issued until then stays, as drafts. Started again, it goes on with the units that are left.</p> : null}</Strip> : null}
      <Section title="Each unit">
        <BiasCaution />
        <Table caption="Outcome of each unit" columns={columns} rows={refusedFirst(batch.outcomes)} keyOf={({ deviceUnit }) => deviceUnit.id} />
      </Section>
      {left === 0 || (job && job.state === 'CANCELLED') ? <SignBatch batch={batch} onSigned={() => void refetch()} /> : null}
      <Section title="What was asked">
        <Facts rows={[
          { name: 'Target', value: <><Rwc value={batch.targetRwc} />: {batch.targetBasis}</> },
          { name: 'Calibration', value: <Link to={`/calibrations/version/${batch.calibrationVersion.id}`}>{batch.calibrationVersion.calibration.label}, version {batch.calibrationVersion.version}</Link> },
          { name: 'Light reference', value: <Link to={threadPath('light_reference', batch.lightReference.id)}>{batch.lightReference.label}, {batch.lightReference.site}</Link> },
          { name: 'Valid until', value: <Moment at={batch.validUntil} /> },
          batch.overrideReason ? { name: 'Answer to what stood against any', value: batch.overrideReason } : null,
        ]} />
      </Section>
    </Page>
  );
}
