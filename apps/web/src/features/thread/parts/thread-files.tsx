import { useApolloClient } from '@apollo/client/react';
import { useState } from 'react';
import { saveFile } from '../../../ui/save-file.js';
import { Action, Notice } from '../../../ui/words.js';
import { PackOfRecord, PaperOfThread } from '../documents.js';
import type { Direction } from './chapters.js';

/** Kinds that are packed: where a thread ends. */
const packed: readonly string[] = ['decision', 'threshold_certificate'];

interface ThreadFilesProps {
  readonly kind: string;
  readonly id: string;
  readonly direction: Direction;
}

/** The thread as a paper, and where it ends in a decision or certificate, the pack that proves it. */
export function ThreadFiles({ kind, id, direction }: ThreadFilesProps) {
  const client = useApolloClient();
  const [making, setMaking] = useState<'paper' | 'pack' | null>(null);
  const [failed, setFailed] = useState<string | null>(null);

  async function make(what: 'paper' | 'pack', ask: () => Promise<{ fileName: string; base64: string } | undefined>): Promise<void> {
    setMaking(what);
    setFailed(null);
    try {
      const file = await ask();
      if (file) saveFile(file);
    } catch (error) {
      setFailed(error instanceof Error ? error.message : String(error));
    } finally {
      setMaking(null);
    }
  }

  const paper = async () => (await client.query({ query: PaperOfThread, variables: { kind, id, direction: direction === 'up' ? 'UP' : 'DOWN' }, fetchPolicy: 'no-cache' })).data?.threadPaper;
  const pack = async () => (await client.query({ query: PackOfRecord, variables: { kind, id }, fetchPolicy: 'no-cache' })).data?.evidencePack;
  return (
    <>
      <Action kind="plain" waiting={making === 'paper'} onClick={() => void make('paper', paper)}>Thread as PDF</Action>
      {packed.includes(kind) ? <Action kind="plain" waiting={making === 'pack'} onClick={() => void make('pack', pack)}>Evidence pack</Action> : null}
      {failed ? <Notice tone="alarm" title="The file was not made.">{failed}</Notice> : null}
    </>
  );
}
