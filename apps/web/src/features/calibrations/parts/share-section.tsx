import { useApolloClient, useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Link } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import type { CalibrationVersionPageQuery, ShareDepth, SharePermission, VersionSharingQuery } from '../../../generated/graphql.js';
import { EntryForm, useEntry } from '../../../ui/entry.js';
import type { FieldBinding } from '../../../ui/entry.js';
import { ChoiceField, MomentField, SegmentField, TextField, TicksField } from '../../../ui/fields.js';
import { newId } from '../../../ui/id.js';
import { useLive } from '../../../ui/live.js';
import { Facts, Section } from '../../../ui/page.js';
import { saveFile } from '../../../ui/save-file.js';
import { usePayload } from '../../../ui/send.js';
import { ApprovalMark, StaleMark } from '../../../ui/state.js';
import { Moment, momentFromInput } from '../../../ui/time.js';
import { Action, Dialog, Failed, Notice, Waiting } from '../../../ui/words.js';
import { GrantShare, OtherLabs, ShareCalibration, SharePack, VersionSharing, WithdrawGrant } from '../shared-documents.js';
import { depths, permissions } from './share-words.js';
import { TalkSection } from './talk.js';

type Version = NonNullable<CalibrationVersionPageQuery['calibrationVersion']>;
type Sharing = NonNullable<VersionSharingQuery['calibrationVersion']>;
type Share = Sharing['shares'][number];
type Grant = Share['grants'][number];
type Origin = NonNullable<Sharing['origin']>;

/** Where a version comes from, with whom it is shared, and what is said about it. */
export function SharingSections({ version }: { readonly version: Version }) {
  const { data, error, refetch } = useQuery(VersionSharing, { variables: { id: version.id } });
  useLive(() => refetch(), ({ kind }) => ['calibration_share', 'share_grant', 'share_grant_withdrawal', 'calibration_comment', 'notice'].includes(kind));
  const again = () => void refetch();
  const sharing = data?.calibrationVersion;
  if (!sharing) return <Section title="Shared with">{error ? <Failed what="with whom it is shared" again={again} /> : <Waiting what="with whom it is shared" />}</Section>;
  return (
    <>
      {sharing.origin ? <OriginSection origin={sharing.origin} /> : <SharesSection version={version} shares={sharing.shares} again={again} />}
      <TalkSection comments={sharing.comments} about={talkedAbout(version.id, sharing.shares)} again={again}
        lead={sharing.origin ? 'Within this lab. To ask the lab it comes from, ask on the page of what it shares.' : sharing.shares.length > 0 ? 'What you say here is read by the labs that the newest share goes to, too.' : 'Within this lab, as long as it is not shared.'} />
    </>
  );
}

const talkedAbout = (calibrationVersionId: string, [newest]: readonly Share[]): { shareId: string } | { calibrationVersionId: string } => (newest ? { shareId: newest.id } : { calibrationVersionId });

function OriginSection({ origin }: { readonly origin: Origin }) {
  const { statement, standing, pack } = origin;
  return (
    <Section title="Where it comes from" lead={`Taken over from ${origin.labName}: ${statement.label}, version ${statement.version}, for ${statement.cropName}. It falls with its origin.`}>
      {standing && (standing.state === 'WITHDRAWN' || standing.stale) ? (
        <Notice tone="alarm" title={standing.state === 'WITHDRAWN' ? `${origin.labName} withdrew it.` : `At ${origin.labName} a fact below it was amended.`}>{standing.reason ?? 'No reason is given.'}</Notice>
      ) : null}
      <Facts rows={[
        { name: 'Stands there', value: standing ? <><ApprovalMark state={standing.state} />{standing.stale ? <> <StaleMark /></> : null}</> : 'not heard of: it came as a file from another server' },
        { name: 'Depth', value: depths[origin.depth] },
        { name: 'Licence', value: origin.licence },
        { name: 'To be cited as', value: origin.citation },
        { name: 'Rig there', value: `${statement.rigText}, ${Number(statement.bandCentreNm)} nm` },
        { name: 'Taken over', value: <><Moment at={origin.recordedAt} />, {origin.recordedBy.displayName}: {origin.reason}</> },
        { name: 'Ledger that entered it', value: <code>{origin.ledger}</code> },
        { name: 'Its key', value: <>{origin.keys.map((key) => <div key={key}><code>{key}</code></div>)}</> },
        origin.keyComparedWith ? { name: 'Key compared with', value: origin.keyComparedWith } : null,
        { name: 'Content there, SHA-256', value: <code>{origin.versionContentHash}</code> },
        { name: 'Sealed pack', value: <a href={pack.url}>keep a copy, {Math.ceil(pack.sizeBytes / 1024)} KiB</a> },
      ]} />
      {origin.source === 'SERVER' ? <p><Link to={`/calibrations/shared/${origin.shareId}`}>What {origin.labName} shares of it, and the questions on it</Link></p> : null}
    </Section>
  );
}

function SharesSection({ version, shares, again }: { readonly version: Version; readonly shares: readonly Share[]; readonly again: () => void }) {
  const mayShare = useHasRole('RESEARCHER', 'MANAGER');
  const [sharing, setSharing] = useState(false);
  const ready = version.state === 'APPROVED' && !version.stale;
  return (
    <Section title="Shared with" lead="Other labs see what you state here, sealed: figures, scope and signatures, or the raw lines too. They see nothing else of this lab."
      actions={mayShare && ready && !sharing ? <Action kind="plain" onClick={() => setSharing(true)}>Share it</Action> : null}>
      {shares.length === 0 ? <p>With nobody.{ready ? '' : ' Only an approved version that is not stale can be shared.'}</p> : shares.map((share) => <OneShare key={share.id} share={share} mayShare={mayShare} again={again} />)}
      {sharing ? <ShareForm version={version} onDone={() => { setSharing(false); again(); }} onCancel={() => setSharing(false)} /> : null}
    </Section>
  );
}

function OneShare({ share, mayShare, again }: { readonly share: Share; readonly mayShare: boolean; readonly again: () => void }) {
  const client = useApolloClient();
  const [ending, setEnding] = useState<Grant | null>(null);
  const [granting, setGranting] = useState(false);
  const pack = async () => {
    const { data } = await client.query({ query: SharePack, variables: { id: share.id }, fetchPolicy: 'no-cache' });
    if (data) saveFile(data.sharePack);
  };
  return (
    <>
      <Facts rows={[
        { name: 'Stated', value: <><Moment at={share.recordedAt} />, {share.recordedBy.displayName}</> },
        { name: 'Depth', value: depths[share.depth] },
        { name: 'Others may use it', value: permissions[share.permits] },
        { name: 'Licence', value: share.licence },
        { name: 'To be cited as', value: share.citation },
        ...share.grants.map((grant) => ({ name: grant.audience === 'EVERY_LAB' ? 'Every lab of this server' : grant.labs.map(({ name }) => name).join(', '), value: <GrantState grant={grant} mayEnd={mayShare} onEnd={() => setEnding(grant)} /> })),
        share.grants.length === 0 ? { name: 'With', value: 'nobody yet' } : null,
      ]} />
      <p>
        {mayShare ? <Action kind="plain" onClick={() => setGranting(true)}>Let more labs see it</Action> : null}{' '}
        {share.packBytes == null ? 'The pack is not sealed yet.' : <Action kind="quiet" onClick={() => void pack()}>Save the sealed pack for another server</Action>}
      </p>
      <GrantDialog share={share} opened={granting} onClose={() => setGranting(false)} again={again} />
      {ending ? <EndGrantDialog grant={ending} onClose={() => setEnding(null)} again={again} /> : null}
    </>
  );
}

function GrantState({ grant, mayEnd, onEnd }: { readonly grant: Grant; readonly mayEnd: boolean; readonly onEnd: () => void }) {
  if (grant.withdrawal) return <>taken back <Moment at={grant.withdrawal.recordedAt} />: {grant.withdrawal.reason}</>;
  if (!grant.stands) return <>ended{grant.until ? <> <Moment at={grant.until} /></> : null}</>;
  return <>since <Moment at={grant.recordedAt} />{grant.until ? <>, until <Moment at={grant.until} /></> : null} {mayEnd ? <Action kind="quiet" onClick={onEnd}>Take it back</Action> : null}</>;
}

const audience = { audience: 'LABS', labIds: [] as readonly string[], until: '' };

interface AudienceProps {
  readonly audience: FieldBinding<string>;
  readonly labIds: FieldBinding<readonly string[]>;
  readonly until: FieldBinding<string>;
}

/** Those who may see it: fields of two forms. */
function AudienceFields({ audience: whom, labIds, until }: AudienceProps) {
  const { data } = useQuery(OtherLabs);
  const labs = data?.otherLabs ?? [];
  return (
    <>
      <SegmentField {...whom} label="Who may see it" choices={[{ value: 'LABS', label: 'Named labs' }, { value: 'EVERY_LAB', label: 'Every lab of this server' }]} />
      {whom.value === 'LABS' ? <TicksField {...labIds} label="Labs" choices={labs.map(({ id, name }) => ({ value: id, label: name }))} empty={<p>There is no other lab on this server.</p>} /> : null}
      <MomentField {...until} label="Until" hint="Empty: until you take it back" optional />
    </>
  );
}

const grantInput = (id: string, shareId: string, { audience: whom, labIds, until }: { audience: string; labIds: readonly string[]; until: string }) => ({
  id, shareId, audience: whom as 'LABS' | 'EVERY_LAB', labIds: whom === 'LABS' ? [...labIds] : [], until: until ? momentFromInput(until) : null,
});

function ShareForm({ version, onDone, onCancel }: { readonly version: Version; readonly onDone: () => void; readonly onCancel: () => void }) {
  const send = usePayload();
  const [grantId] = useState(newId);
  const [initial] = useState({ ...audience, depth: 'SUMMARY', permits: 'REUSE', licence: '', citation: '' });
  const entry = useEntry({
    initial,
    send: async (values, id) => {
      const shared = await send(ShareCalibration, { input: {
        id, calibrationVersionId: version.id, depth: values.depth as ShareDepth, permits: values.permits as SharePermission, licence: values.licence, citation: values.citation,
      } });
      if (shared.outcome === 'recorded') return send(GrantShare, { input: grantInput(grantId, id, values) });
      return shared.outcome === 'refused' ? { ...shared, payload: null } : shared;
    },
    onRecorded: onDone,
  });
  return (
    <EntryForm entry={entry} action="Share it" label="Share this version" onCancel={onCancel}>
      <ChoiceField {...entry.field('depth')} label="How much they see" choices={Object.entries(depths).map(([value, label]) => ({ value, label }))} />
      <ChoiceField {...entry.field('permits')} label="What they may do" choices={Object.entries(permissions).map(([value, label]) => ({ value, label }))} />
      <TextField {...entry.field('licence')} label="Licence" hint="Under which terms, for example CC BY 4.0" />
      <TextField {...entry.field('citation')} label="To be cited as" />
      <AudienceFields audience={entry.field('audience')} labIds={entry.field('labIds')} until={entry.field('until')} />
    </EntryForm>
  );
}

function GrantDialog({ share, opened, onClose, again }: { readonly share: Share; readonly opened: boolean; readonly onClose: () => void; readonly again: () => void }) {
  const send = usePayload();
  const entry = useEntry({ initial: audience, send: (values, id) => send(GrantShare, { input: grantInput(id, share.id, values) }), onRecorded: () => { onClose(); again(); } });
  return (
    <Dialog title="Let more labs see it" opened={opened} onClose={onClose}>
      <EntryForm entry={entry} action="Let them see it" onCancel={onClose}><AudienceFields audience={entry.field('audience')} labIds={entry.field('labIds')} until={entry.field('until')} /></EntryForm>
    </Dialog>
  );
}

const noReason = { reason: '' };

function EndGrantDialog({ grant, onClose, again }: { readonly grant: Grant; readonly onClose: () => void; readonly again: () => void }) {
  const send = usePayload();
  const entry = useEntry({ initial: noReason, send: ({ reason }, id) => send(WithdrawGrant, { input: { id, grantId: grant.id, reason } }), onRecorded: () => { onClose(); again(); } });
  return (
    <Dialog title="Take a grant back" opened onClose={onClose}>
      <p>Who took the version over keeps what it has, is told, and needs a reason for each new use. To stop new certificates, withdraw the version itself.</p>
      <EntryForm entry={entry} action="Take it back" onCancel={onClose}><TextField {...entry.field('reason')} label="Reason" hint="The other labs read it" wide /></EntryForm>
    </Dialog>
  );
}
