import { useQuery } from '@apollo/client/react';
import { Link, useParams } from 'react-router';
import { useLive } from '../../../ui/live.js';
import { Back, Facts, Page, Section, Strip } from '../../../ui/page.js';
import { recordPath, threadPath } from '../../../ui/paths.js';
import { ApprovalMark, TransferMark } from '../../../ui/state.js';
import { Moment } from '../../../ui/time.js';
import { ActionLink, Empty, Failed, Flags, Notice, Waiting } from '../../../ui/words.js';
import { TransferStudyPage } from '../transfer-documents.js';
import { AdjustPart } from './adjust-part.js';
import { SaveTables } from './save-tables.js';
import { ThicknessFindings } from './thickness-findings.js';
import { ReadingsFindings } from './transfer-findings.js';

/** Whether a calibration holds for other leaves: the verdict first, in words, then its figures. */
export function TransferScreen() {
  const { id = '' } = useParams();
  const { data, error, refetch } = useQuery(TransferStudyPage, { variables: { id } });
  useLive(() => refetch(), ({ kind }) => ['amendment', 'calibration_version', 'signature'].includes(kind));
  const back = <Back to="/calibrations">Calibrations</Back>;
  if (!data) return <Page title="Transfer study" margin={back}><Strip>{error ? <Failed what="this study" again={() => void refetch()} /> : <Waiting what="the study" />}</Strip></Page>;
  const study = data.transferStudy;
  if (!study) return <Page title="Transfer study" margin={back}><Strip><Empty title="No transfer study of this lab has this address." /></Strip></Page>;
  const { given, crop, readings, thickness } = study;
  return (
    <Page title={readings ? `Does ${given.label} hold for ${crop.name}?` : `What to expect of ${crop.name} by ${given.label}`}
      margin={<><Back to={recordPath(given.kind, given.id)}>{given.label}</Back>{readings ? <><br /><TransferMark verdict={readings.verdict} /></> : null}</>}
      lead={study.sentence}
      actions={<><SaveTables kind="transfer_study" id={study.id} /><ActionLink to={threadPath('transfer_study', study.id)}>Follow the thread</ActionLink><ActionLink to={threadPath('transfer_study', study.id, 'up')}>What rests on it</ActionLink></>}>
      {study.stale ? <Strip><Notice tone="ask" title="This study is stale: a fact it rests on was amended since."><Link to={`${threadPath('transfer_study', study.id)}&only=exceptions`}>See in its thread what was amended</Link>, then study again.</Notice></Strip> : null}
      {study.remarks.length > 0 ? <Strip><Flags flags={study.remarks} /></Strip> : null}
      {readings ? <ReadingsFindings study={study} readings={readings} /> : null}
      {thickness ? <ThicknessFindings study={study} thickness={thickness} /> : null}
      {readings ? <AdjustPart study={study} verdict={readings.verdict} again={() => void refetch()} /> : null}
      {study.adjusted.length > 0 ? (
        <Section title="Versions adjusted by it">
          <ul>{study.adjusted.map(({ id: versionId, version, state, calibration }) => <li key={versionId}><Link to={`/calibrations/version/${versionId}`}>{calibration.label}, version {version}</Link> <ApprovalMark state={state} /></li>)}</ul>
        </Section>
      ) : null}
      <Section title="What it was made with">
        <Facts rows={[
          { name: 'Given calibration', value: <><Link to={recordPath(given.kind, given.id)}>{given.label}</Link>, {given.leafCount} leaves of {given.crop} on {given.rig}</> },
          { name: 'Studied', value: <><Moment at={study.recordedAt} /> by {study.recordedBy.displayName}</> },
          { name: 'Code version', value: <code>{study.codeVersion}</code> },
          { name: 'Drawn by chance', value: 'nothing: there is no seed' },
          { name: 'Content, SHA-256', value: <code>{study.contentHash}</code> },
        ]} />
      </Section>
    </Page>
  );
}
