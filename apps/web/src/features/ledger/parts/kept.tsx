import { useApolloClient } from '@apollo/client/react';
import { useState } from 'react';
import type { ChangeEvent } from 'react';
import { AreaField } from '../../../ui/fields.js';
import { Action } from '../../../ui/words.js';
import { Consistency } from '../documents.js';
import { FoundLine } from './found.js';
import { proveKept, readKept, type Found, type GivenKey, type GivenProof } from './prove.js';
import styles from './ledger.module.css';

interface KeptProps {
  readonly checkpoint: GivenProof['checkpoint'];
  readonly keys: readonly GivenKey[];
}

/** Paste or load a checkpoint that was kept outside, and see whether the ledger of now still begins with it. */
export function Kept({ checkpoint, keys }: KeptProps) {
  const client = useApolloClient();
  const [text, setText] = useState('');
  const [outcome, setOutcome] = useState<Found | null>(null);
  const [waiting, setWaiting] = useState(false);

  async function compare(kept: string): Promise<void> {
    setWaiting(true);
    try {
      setOutcome(await answer(kept));
    } finally {
      setWaiting(false);
    }
  }

  async function answer(kept: string): Promise<Found> {
    let size: number;
    try {
      size = readKept(kept).size;
    } catch (error) {
      return { question: 'Does the ledger still begin with what you kept?', status: 'unproven', says: `This is no checkpoint: ${error instanceof Error ? error.message : ''} Paste the whole note, with its signature.` };
    }
    if (size === 0 || size >= checkpoint.size) return proveKept(kept, checkpoint, keys, null);
    const { data } = await client.query({ query: Consistency, variables: { oldSize: size, newSize: checkpoint.size }, fetchPolicy: 'no-cache' });
    return proveKept(kept, checkpoint, keys, data?.consistencyProof.proof ?? []);
  }

  async function load(event: ChangeEvent<HTMLInputElement>): Promise<void> {
    const file = event.currentTarget.files?.[0];
    if (!file) return;
    const loaded = await file.text();
    setText(loaded);
    await compare(loaded);
  }

  return (
    <>
      <AreaField name="kept" label="Checkpoint that you kept" hint="The whole note: name, number of entries, root, and the line of the signature." value={text} onChange={setText} problem={null} rows={6} raw unmarked />
      <div className={styles.row}>
        <Action onClick={() => void compare(text)} waiting={waiting} disabled={text.trim() === ''}>Compare with the ledger of now</Action>
        <label className={styles.file}>or load it from a file<input type="file" accept=".txt,text/plain" onChange={(event) => void load(event)} /></label>
      </div>
      {outcome ? <div role="status"><FoundLine found={outcome} /></div> : null}
    </>
  );
}
