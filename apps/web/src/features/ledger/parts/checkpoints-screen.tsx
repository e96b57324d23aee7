import { useApolloClient, useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { useLive } from '../../../ui/live.js';
import { Back, Page, Section, Strip } from '../../../ui/page.js';
import { saveFile, saveText } from '../../../ui/save-file.js';
import { Table } from '../../../ui/table.js';
import { Action, Empty, Failed, Notice, Waiting } from '../../../ui/words.js';
import { CheckpointList, LedgerCheckpoints, VerifierFile } from '../documents.js';
import { Kept } from './kept.js';
import styles from './ledger.module.css';

/** The newest ones are what a person looks for; older ones are asked for by the size that was kept. */
const LOOKED_BACK = 2_000;

const fileOf = (size: number): string => `checkpoint-${size}.txt`;

/** /ledger/checkpoints: what to keep outside of the lab's reach, and the verifier that needs no server. */
export function CheckpointsScreen() {
  const { data, error, refetch } = useQuery(LedgerCheckpoints);
  useLive(() => refetch());
  const newest = data?.checkpoint;
  return (
    <Page title="Checkpoints to keep" margin={<Back to="/ledger">Ledger</Back>} lead="A checkpoint says how many entries the ledger has and what their root is, signed. Keep one where nobody of the lab can reach it: on paper, with the auditor, in another house. Then no history can be written anew unseen."
      actions={newest ? <><Action onClick={() => saveText(fileOf(newest.size), newest.text)}>Save the newest</Action><Action kind="plain" onClick={() => window.print()}>Print</Action></> : null}>
      {!data ? <Strip>{error ? <Failed what="the checkpoints" again={() => void refetch()} /> : <Waiting what="the checkpoints" />}</Strip> : null}
      {data && !newest ? <Strip><Empty title="Nothing is signed yet.">The first checkpoint comes some seconds after the first record.</Empty></Strip> : null}
      {newest ? <Section title={`The newest, over ${newest.size} entries`}><pre className={styles.note}>{newest.text}</pre></Section> : null}
      {newest && data ? <Section title="Compare one that you kept" lead="Checked on this computer."><Kept checkpoint={newest} keys={data.ledgerKeys} /></Section> : null}
      {newest ? <Earlier newest={newest.size} /> : null}
      {data ? (
        <Section title="Keys that sign this ledger" lead="Publish them where the lab is known. Each later key is named by the one before it.">
          <Table caption="Keys of the ledger, in the order of use" rows={data.ledgerKeys} keyOf={({ key }) => key} columns={[
            { head: 'Key', cell: ({ key }) => <span className={styles.wide}>{key}</span> },
            { head: 'Signs from', number: true, cell: ({ firstSize }) => firstSize },
            { head: 'Up to', number: true, cell: ({ lastSize }) => lastSize ?? 'in use' },
          ]} />
        </Section>
      ) : null}
      <Verifier />
    </Page>
  );
}

function Earlier({ newest }: { readonly newest: number }) {
  const { data } = useQuery(CheckpointList, { variables: { since: Math.max(0, newest - LOOKED_BACK) } });
  const rows = [...(data?.checkpoints ?? [])].reverse().filter(({ size }) => size < newest);
  if (rows.length === 0) return null;
  return (
    <Section title="Earlier ones">
      <Table caption="Earlier checkpoints" rows={rows} keyOf={({ size }) => String(size)} columns={[
        { head: 'Entries', cell: ({ size }) => size },
        { head: 'Root', cell: ({ text }) => <span className={styles.wide}>{text.split('\n')[2]}</span> },
        { head: 'Keep', cell: ({ size, text }) => <Action kind="quiet" onClick={() => saveText(fileOf(size), text)}>{`Save ${fileOf(size)}`}</Action> },
      ]} />
    </Section>
  );
}

/** One file that checks evidence packs on a machine that has only Node. */
function Verifier() {
  const client = useApolloClient();
  const [said, setSaid] = useState<string | null>(null);
  const fetchFile = async () => {
    const { data } = await client.query({ query: VerifierFile, fetchPolicy: 'no-cache' });
    if (!data?.verifier) return setSaid('This server was not built with it. Take it from another installation: threadleaf verifier.');
    saveFile(data.verifier);
    setSaid(`${data.verifier.bytes} bytes, SHA-256 ${data.verifier.sha256}`);
  };
  return (
    <Section title="The verifier" lead="One file that checks an evidence pack on any computer with Node 20.19 or newer: node verify.mjs pack.zip. It needs no server, no database and no network.">
      <div className={styles.row}><Action kind="plain" onClick={() => void fetchFile()}>Save verify.mjs</Action></div>
      {said ? <p className={styles.wide} role="status">{said}</p> : null}
      <Notice tone="calm" title="A verifier from the server that it checks proves less.">Keep one from a day when you trusted it, or build it from the source, and compare the SHA-256.</Notice>
    </Section>
  );
}
