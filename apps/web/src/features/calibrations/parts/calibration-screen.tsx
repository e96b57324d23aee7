import { useQuery } from '@apollo/client/react';
import { useParams } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import type { CalibrationPageQuery } from '../../../generated/graphql.js';
import { useLive } from '../../../ui/live.js';
import { Back, Page, Section, Strip } from '../../../ui/page.js';
import { threadPath } from '../../../ui/paths.js';
import { Table } from '../../../ui/table.js';
import { Moment } from '../../../ui/time.js';
import { ActionLink, Empty, Failed, Waiting } from '../../../ui/words.js';
import { CalibrationPage } from '../documents.js';
import { familyText, NewLeaf, rangeText, VersionLink, VersionState } from './version-columns.js';

type Version = NonNullable<CalibrationPageQuery['calibration']>['versions'][number];

const columns = [
  { head: 'Version', cell: (version: Version) => <VersionLink version={version} /> },
  { head: 'State', cell: (version: Version) => <VersionState version={version} /> },
  { head: 'Family', cell: (version: Version) => familyText(version) },
  { head: 'Rig', cell: ({ rig }: Version) => `${rig.label}, version ${rig.version}` },
  { head: 'Leaves', number: true, cell: ({ leafCount }: Version) => leafCount },
  { head: 'One new leaf, 95 %', number: true, cell: (version: Version) => <NewLeaf version={version} /> },
  { head: 'RWC range', number: true, cell: (version: Version) => rangeText(version) },
  { head: 'Certificates', number: true, cell: ({ certificates }: Version) => certificates.length },
  { head: 'Fitted', cell: ({ recordedAt, recordedBy }: Version) => <><Moment at={recordedAt} />, {recordedBy.displayName}</> },
] as const;

/** One calibration: all its versions, none of which ever changes. */
export function CalibrationScreen() {
  const { id = '' } = useParams();
  const mayBuild = useHasRole('RESEARCHER', 'MANAGER');
  const { data, error, refetch } = useQuery(CalibrationPage, { variables: { id } });
  useLive(() => refetch(), ({ kind }) => ['calibration_version', 'signature', 'amendment', 'threshold_certificate'].includes(kind));
  const back = <Back to="/calibrations">Calibrations</Back>;
  if (!data) return <Page title="Calibration" margin={back}><Strip>{error ? <Failed what="this calibration" again={() => void refetch()} /> : <Waiting what="the calibration" />}</Strip></Page>;
  const { calibration } = data;
  if (!calibration) return <Page title="Calibration" margin={back}><Strip><Empty title="No calibration of this lab has this address." /></Strip></Page>;
  return (
    <Page title={calibration.label} margin={back} lead={<>{calibration.crop.name}{calibration.crop.scientificName ? <>, <i>{calibration.crop.scientificName}</i></> : null}. Begun <Moment at={calibration.recordedAt} /> by {calibration.recordedBy.displayName}.</>}
      actions={<>{mayBuild ? <ActionLink kind="strong" to={`/calibrations/${id}/fit`}>Fit a new version</ActionLink> : null}<ActionLink to={threadPath('calibration', id, 'up')}>What rests on it</ActionLink></>}>
      <Section title="Versions" lead="A version never changes. Other runs, or points left out, make a new one.">
        {calibration.versions.length === 0
          ? <Empty title="No version has been fitted yet."><p>It takes released drying runs of {calibration.crop.name}.</p></Empty>
          : <Table caption={`Versions of ${calibration.label}, newest first`} columns={columns} rows={calibration.versions} keyOf={(version) => version.id} />}
      </Section>
    </Page>
  );
}
