import { useQuery } from '@apollo/client/react';
import { lazy, Suspense, useState } from 'react';
import { Link, useParams } from 'react-router';
import type { SharedPageQuery } from '../../../generated/graphql.js';
import { useHasRole } from '../../../app/session.js';
import { useLive } from '../../../ui/live.js';
import { Back, Facts, Page, Section, Strip } from '../../../ui/page.js';
import { rwcInterval } from '../../../ui/quantity.js';
import { usePayload } from '../../../ui/send.js';
import { ApprovalMark, StaleMark } from '../../../ui/state.js';
import { Moment } from '../../../ui/time.js';
import { Action, Empty, Failed, Notice, Waiting } from '../../../ui/words.js';
import { FollowShare, SharedPage } from '../shared-documents.js';
import { families } from './families.js';
import { depths, permissions } from './share-words.js';
import { StatementFacts } from './statement-facts.js';
import { TakeOverForm } from './take-over-form.js';
import { TalkSection } from './talk.js';

type Shared = NonNullable<SharedPageQuery['sharedCalibration']>;

const CalibrationPlot = lazy(async () => ({ default: (await import('../../../plots/calibration-plot.js')).CalibrationPlot }));
const NO_POINTS: readonly [] = [];

/** A calibration version that another lab shares: how far it holds, on what terms, and what to do with it. */
export function SharedScreen() {
  const { id = '' } = useParams();
  const { data, error, refetch } = useQuery(SharedPage, { variables: { id } });
  useLive(() => refetch(), ({ kind }) => ['notice', 'calibration_adoption', 'calibration_version', 'calibration_comment'].includes(kind));
  const back = <Back to="/calibrations">Calibrations</Back>;
  if (!data) return <Page title="Shared calibration" margin={back}><Strip>{error ? <Failed what="this calibration" again={() => void refetch()} /> : <Waiting what="the calibration" />}</Strip></Page>;
  if (!data.sharedCalibration) return <Page title="Shared calibration" margin={back}><Strip><Empty title="No calibration at this address is shared with this lab."><p>It may have been shared once. What your lab took over stays among <Link to="/calibrations">your calibrations</Link>.</p></Empty></Strip></Page>;
  return <OneShared shared={data.sharedCalibration} again={() => void refetch()} />;
}

function OneShared({ shared, again }: { readonly shared: Shared; readonly again: () => void }) {
  const { statement, giver, standing, followed } = shared;
  const mayTake = useHasRole('RESEARCHER', 'MANAGER') && shared.permits === 'REUSE' && standing.state !== 'WITHDRAWN';
  const [taking, setTaking] = useState(false);
  const send = usePayload();
  const follow = async () => {
    await send(FollowShare, { shareId: shared.id, follow: !followed });
    again();
  };
  return (
    <Page title={`${statement.label}, version ${statement.version}`} margin={<><Back to="/calibrations">Calibrations</Back><br /><ApprovalMark state={standing.state} />{standing.stale ? <><br /><StaleMark /></> : null}</>}
      lead={<>Shared by {giver.name}. {statement.cropName}{statement.scientificName ? <> (<i>{statement.scientificName}</i>)</> : null}, {families[statement.family].word} ({families[statement.family].formula}), {statement.leafCount} leaves, RWC {rwcInterval(statement.rwcMin, statement.rwcMax)}.</>}
      actions={<>{mayTake && !taking ? <Action onClick={() => setTaking(true)}>Take it over</Action> : null}<Action kind="plain" onClick={() => void follow()}>{followed ? 'Do not tell me of changes' : 'Tell me of changes'}</Action></>}>
      {standing.state === 'WITHDRAWN' ? <Strip><Notice tone="alarm" title={`${giver.name} withdrew this version.`}>{standing.reason ?? 'No reason is given.'}</Notice></Strip> : null}
      {standing.stale ? <Strip><Notice tone="ask" title={`At ${giver.name} a fact below this version was amended.`}>{standing.reason ?? 'No reason is given.'}</Notice></Strip> : null}
      {taking ? (
        <Section title="Take it over" lead="The pack is verified and kept with your record. It begins as a draft: somebody else reviews and approves it here. A few leaves of your own tell whether it holds for them.">
          <TakeOverForm from={{ shareId: shared.id }} onCancel={() => setTaking(false)} />
        </Section>
      ) : null}
      <Section title="How far it holds there" lead="No reading is drawn: the lab shows the fit.">
        <Suspense fallback={<Waiting what="the drawing" />}><CalibrationPlot label={`Transmittance against RWC, ${statement.label} of ${giver.name}`} points={NO_POINTS} curve={statement.curve} /></Suspense>
        <StatementFacts statement={statement} />
      </Section>
      <Section title="Terms">
        <Facts rows={[
          { name: 'You may use it', value: permissions[shared.permits] },
          { name: 'You see', value: depths[shared.depth] },
          { name: 'Licence', value: shared.licence },
          { name: 'To be cited as', value: shared.citation },
          { name: 'Shared', value: <><Moment at={shared.sharedAt} />{shared.until ? <>, until <Moment at={shared.until} /></> : null}</> },
          { name: 'Taken over as', value: shared.adopted.length === 0 ? 'not yet' : <>{shared.adopted.map(({ id, version, calibration, state }) => <div key={id}><Link to={`/calibrations/version/${id}`}>{calibration.label}, version {version}</Link> ({calibration.crop.name}) <ApprovalMark state={state} /></div>)}</> },
        ]} />
      </Section>
      <TalkSection comments={shared.comments} about={{ shareId: shared.id }} again={again} lead={`${giver.name} and every lab it is shared with read what you say here.`} />
    </Page>
  );
}
