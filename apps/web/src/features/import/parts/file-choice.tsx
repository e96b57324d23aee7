import { useId, useState } from 'react';
import { Notice } from '../../../ui/words.js';
import styles from './file-choice.module.css';

const MAX_BYTES = 5_000_000;

/** Reads a chosen file as UTF-8 text; a file that is no such text is refused before anything is sent. */
export function FileChoice({ onText }: { readonly onText: (fileName: string, text: string) => void }) {
  const id = useId();
  const [problem, setProblem] = useState<{ readonly title: string; readonly remedy: string } | null>(null);
  const read = async (file: File | undefined) => {
    if (!file) return;
    if (file.size > MAX_BYTES) return setProblem({ title: `${file.name} has ${(file.size / 1e6).toFixed(1)} MB; at most 5 MB are taken.`, remedy: 'Split it by disc, and import the parts.' });
    try {
      onText(file.name, new TextDecoder('utf-8', { fatal: true }).decode(await file.arrayBuffer()));
      setProblem(null);
    } catch {
      setProblem({ title: `${file.name} is not UTF-8 text.`, remedy: 'Save it as CSV in UTF-8 from your spreadsheet, then choose it again.' });
    }
  };
  return (
    <div className={styles.choice}>
      <label htmlFor={id}>File</label>
      <input id={id} type="file" accept=".csv,.tsv,.txt,text/csv,text/tab-separated-values,text/plain" onChange={(event) => void read(event.currentTarget.files?.[0])} />
      {problem ? <Notice tone="alarm" title={problem.title}>{problem.remedy}</Notice> : null}
    </div>
  );
}
