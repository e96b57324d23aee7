import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { useHasRole } from '../../../app/session.js';
import type { RecomputeRunsQuery } from '../../../generated/graphql.js';
import { Dated } from '../../../ui/dated.js';
import { Differing } from '../../../ui/differing.js';
import { newId } from '../../../ui/id.js';
import { JobLine, useJob } from '../../../ui/job.js';
import { useLive } from '../../../ui/live.js';
import { Back, Page, Section, Strip } from '../../../ui/page.js';
import { usePayload } from '../../../ui/send.js';
import { Table } from '../../../ui/table.js';
import { Action, Empty, Failed, Notice, Waiting } from '../../../ui/words.js';
import { RecomputeAll, RecomputeRuns } from '../documents.js';
import styles from './ledger.module.css';

type Run = RecomputeRunsQuery['recomputeRuns'][number];

const columns = [
  { head: 'When', cell: ({ endedAt }: Run) => <Dated at={endedAt} /> },
  { head: 'Asked for by', cell: ({ startedBy }: Run) => startedBy?.displayName ?? 'nobody: the work of the night' },
  { head: 'Results', number: true, cell: ({ resultCount }: Run) => resultCount },
  { head: 'Came out otherwise', number: true, cell: ({ differCount }: Run) => (differCount === 0 ? 'none' : differCount) },
  { head: 'Code that computed', cell: ({ codeVersion }: Run) => <code>{codeVersion}</code> },
] as const;

/** /ledger/results: whether each result of the lab still follows from its facts, as the nights found it. */
export function ResultsScreen() {
  const { data, error, refetch } = useQuery(RecomputeRuns);
  const mayAsk = useHasRole('RESEARCHER', 'MANAGER', 'AUDITOR', 'ADMINISTRATOR');
  useLive(() => refetch());
  const runs = data?.recomputeRuns;
  const newest = runs?.[0];
  return (
    <Page title="Results computed again" margin={<Back to="/ledger">Ledger</Back>} lead="Every night each result of this lab is computed anew from the facts it used, and compared with what was frozen, value by value. A result that comes out otherwise was altered, or the code was.">
      {mayAsk ? <AskNow onEnded={() => void refetch()} /> : null}
      {!runs ? <Strip>{error ? <Failed what="the comparisons" again={() => void refetch()} /> : <Waiting what="the comparisons" />}</Strip> : null}
      {runs && !newest ? <Strip><Empty title="Nothing was computed again yet.">The first comparison comes with the first night, or when somebody asks for it.</Empty></Strip> : null}
      {newest ? <Newest run={newest} /> : null}
      {runs && newest ? <Section title="All comparisons"><Table caption="Comparisons, newest first" rows={runs} keyOf={({ id }) => id} columns={columns} /></Section> : null}
    </Page>
  );
}

function Newest({ run }: { readonly run: Run }) {
  const { resultCount, differCount, differing } = run;
  return (
    <Section title="The newest">
      {differCount === 0
        ? <Notice tone="calm" title={resultCount === 1 ? 'The one result came out the same, to the last digit.' : `All ${resultCount} results came out the same, to the last digit.`}>Computed by {run.codeVersion}.</Notice>
        : <Notice tone="alarm" title={`${differCount} of ${resultCount} results came out otherwise.`}>Where the code then was another, the difference may come from it. Where it is the same, facts or results may have been altered: run the check of the record, and compare with a checkpoint that was kept.</Notice>}
      {differing.map((step) => <Differing key={step.id} step={step} />)}
      {differing.length < differCount ? <p>The first {differing.length} are shown.</p> : null}
    </Section>
  );
}

function AskNow({ onEnded }: { readonly onEnded: () => void }) {
  const send = usePayload();
  const [jobId, setJobId] = useState<string | null>(null);
  const [refused, setRefused] = useState<string | null>(null);
  const job = useJob(jobId, onEnded);
  const running = job !== null && (job.state === 'QUEUED' || job.state === 'RUNNING');
  const start = async (): Promise<void> => {
    const id = newId();
    const sent = await send(RecomputeAll, { id });
    setRefused(sent.outcome === 'refused' ? `${sent.problem.message} ${sent.problem.remedy}` : sent.outcome === 'not-sent' ? sent.message : null);
    if (sent.outcome === 'recorded') setJobId(id);
  };
  return (
    <Strip>
      {running ? null : <div className={styles.row}><Action kind="plain" onClick={() => void start()}>Compute all again now</Action></div>}
      {refused ? <Notice tone="alarm" title="It was not started.">{refused}</Notice> : null}
      {job ? <JobLine job={job} /> : null}
    </Strip>
  );
}
