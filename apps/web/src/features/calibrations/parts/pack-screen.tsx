import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Back, Facts, Page, Section, Strip } from '../../../ui/page.js';
import { FileField } from '../../../ui/file-field.js';
import { Failed, Notice, Waiting } from '../../../ui/words.js';
import { ReadPackOfOtherServer } from '../shared-documents.js';
import { depths, permissions } from './share-words.js';
import { StatementFacts } from './statement-facts.js';
import { TakeOverForm } from './take-over-form.js';

/** A calibration that came as a file from another server: verified, its key compared by a person, then taken over. */
export function PackScreen() {
  const [fileId, setFileId] = useState('');
  return (
    <Page title="Take over from a file" margin={<Back to="/calibrations">Calibrations</Back>} lead="A sealed pack that a lab on another server saved for you. It is checked here as a whole; whose key sealed it, you compare yourself.">
      <Strip><FileField name="file" value={fileId} onChange={setFileId} problem={null} label="Sealed pack" purpose="EVIDENCE_PACK" accept=".zip" hint="A ZIP" /></Strip>
      {fileId ? <PackRead fileId={fileId} /> : null}
    </Page>
  );
}

function PackRead({ fileId }: { readonly fileId: string }) {
  const { data, error, refetch } = useQuery(ReadPackOfOtherServer, { variables: { id: fileId } });
  if (!data) return <Strip>{error ? <Failed what="the pack" again={() => void refetch()} /> : <Waiting what="the pack" />}</Strip>;
  const { pack, problem } = data.readSharedPack;
  if (!pack) return <Strip><Notice tone="alarm" title="This pack is refused.">{problem?.message} {problem?.remedy}</Notice></Strip>;
  const { statement } = pack;
  return (
    <>
      <Section title="Whose key" lead="Compare this key, letter by letter, with the one that the lab publishes, by another way than the file came. A forger can seal a pack too, but not with their key.">
        <Facts rows={[{ name: 'Lab, by its own word', value: statement.labName }, { name: 'Ledger', value: <code>{pack.ledger}</code> }, { name: 'Key', value: <>{pack.keys.map((key) => <div key={key}><code>{key}</code></div>)}</> }]} />
      </Section>
      <Section title="What was checked">
        <ul>{[...new Set(pack.findings.filter(({ check }) => check !== 'reading').map(({ status, says }) => `${status === 'holds' ? 'Holds' : 'Not proven'}: ${says}`))].map((line) => <li key={line}>{line}</li>)}</ul>
      </Section>
      <Section title={`${statement.label}, version ${statement.version}`} lead={`${statement.cropName}. ${statement.labName} gives it ${permissions[pack.permits]}; ${depths[pack.depth]}. Licence: ${pack.licence}. To be cited as: ${pack.citation}.`}><StatementFacts statement={statement} /></Section>
      {pack.permits === 'REUSE' ? <Section title="Take it over" lead="It begins as a draft: somebody else reviews and approves it here."><TakeOverForm from={{ storedFileId: fileId }} /></Section> : null}
    </>
  );
}
