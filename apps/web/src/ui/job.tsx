import { useQuery } from '@apollo/client/react';
import { useEffect, useRef } from 'react';
import type { JobFieldsFragment } from '../generated/graphql.js';
import { CancelJob, JobWatched, RetryJob } from './job-documents.js';
import styles from './job.module.css';
import { useLive } from './live.js';
import { usePayload } from './send.js';
import { Action, Notice } from './words.js';

export type JobSeen = JobFieldsFragment;

const words: Readonly<Record<JobSeen['state'], string>> = {
  QUEUED: 'waits for its turn', RUNNING: 'runs', DONE: 'done', FAILED: 'failed', CANCELLED: 'cancelled',
};

const ended = ({ state }: JobSeen): boolean => state !== 'QUEUED' && state !== 'RUNNING';

/** A job and how it stands, kept up to date; null while it is fetched. */
export function useJob(id: string | null, onEnded?: (job: JobSeen) => void): JobSeen | null {
  const { data, refetch } = useQuery(JobWatched, { variables: { id: id ?? '' }, skip: id === null, fetchPolicy: 'network-only' });
  useLive(() => (id === null ? undefined : refetch()), (event) => event.kind === 'job' && event.id === id);
  const job = data?.job ?? null;
  const told = useRef<string | null>(null);
  useEffect(() => {
    if (!job || !ended(job) || told.current === job.id) return;
    told.current = job.id;
    onEnded?.(job);
  }, [job, onEnded]);
  return job;
}

/** One job: what it does, how far it is, and the way to call it off or begin it again. */
export function JobLine({ job }: { readonly job: JobSeen }) {
  const send = usePayload();
  const percent = Math.round(100 * job.progress);
  return (
    <div className={styles.job} data-state={job.state}>
      <div className={styles.head} role="status">
        <span><strong>{job.label}</strong>: {words[job.state]}{job.state === 'RUNNING' && job.sentence ? `. ${job.sentence}` : ''}</span>
        {job.state === 'RUNNING' ? <span>{percent} %</span> : null}
      </div>
      {job.state === 'RUNNING' || job.state === 'QUEUED' ? <progress className={styles.bar} max={100} value={percent} aria-label={`Progress of ${job.label}`} /> : null}
      {job.state === 'FAILED' ? <Notice tone="alarm" title={job.error ?? 'It failed.'}>{job.remedy}</Notice> : null}
      {ended(job) && job.state !== 'DONE' ? <div className={styles.actions}><Action kind="plain" onClick={() => void send(RetryJob, { id: job.id })}>Start it again</Action></div> : null}
      {!ended(job) ? <div className={styles.actions}><Action kind="plain" onClick={() => void send(CancelJob, { id: job.id })}>Cancel it</Action></div> : null}
    </div>
  );
}
