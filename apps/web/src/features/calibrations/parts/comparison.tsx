import { useState } from 'react';
import { formatNumber } from '#libs/quantity';
import type { CalibrationStudyInput } from '../../../generated/graphql.js';
import { newId } from '../../../ui/id.js';
import { JobLine, useJob } from '../../../ui/job.js';
import { usePayload } from '../../../ui/send.js';
import type { ProblemSeen } from '../../../ui/send.js';
import { Table } from '../../../ui/table.js';
import { Action, Notice } from '../../../ui/words.js';
import { CompareCalibrations } from '../documents.js';
import { pText } from './builder.js';

interface ComparisonRow {
  readonly what: string;
  readonly deltaAicc: number | null;
  readonly leaveOneLeafOutPoints: number | null;
  readonly biasPoints: number | null;
  readonly lackOfFitP: number | null;
  readonly monotonic: boolean;
  readonly remark: string | null;
}

interface Influence {
  readonly leaf: string;
  readonly shiftPoints: number;
  readonly newLeafHalfWidthPoints: number;
}

/** The outcome of the job, whose form the contract tells beside compareCalibrations. */
interface Outcome {
  readonly rows: readonly ComparisonRow[];
  readonly influence: readonly Influence[];
}

const number = (value: number | null, places: number): string => (value === null ? '–' : formatNumber(value, places));
const INFLUENCE_MOST = 12;

/** Families and leaf effects side by side: long work, as a job that can be called off. */
export function ComparisonPart({ input, disabled }: { readonly input: CalibrationStudyInput; readonly disabled: boolean }) {
  const send = usePayload();
  const [jobId, setJobId] = useState<string | null>(null);
  const [asked, setAsked] = useState<string | null>(null);
  const [problem, setProblem] = useState<ProblemSeen | null>(null);
  const [sending, setSending] = useState(false);
  const job = useJob(jobId);
  const now = JSON.stringify(input);
  const start = async (): Promise<void> => {
    setSending(true);
    setProblem(null);
    const id = newId();
    const sent = await send(CompareCalibrations, { id, input });
    setSending(false);
    if (sent.outcome === 'recorded') {
      setJobId(id);
      setAsked(now);
    } else setProblem(sent.outcome === 'refused' ? sent.problem : { code: 'STATE', field: null, message: sent.message, remedy: 'Send it again.' });
  };
  const outcome = job?.state === 'DONE' ? (job.outcome as Outcome) : null;
  return (
    <>
      {problem ? <Notice tone="alarm" title={problem.message}>{problem.remedy}</Notice> : null}
      {job && job.state !== 'DONE' ? <JobLine job={job} /> : null}
      {outcome ? <>{asked === now ? null : <Notice tone="ask" title="The readings or the fit were changed since this comparison.">Compare again to see it for what is chosen now.</Notice>}<Outcomes outcome={outcome} /></> : null}
      <p><Action kind="plain" onClick={() => void start()} waiting={sending} disabled={disabled || job?.state === 'RUNNING' || job?.state === 'QUEUED'}>{outcome ? 'Compare again' : 'Compare families and leaf effects'}</Action></p>
    </>
  );
}

function Outcomes({ outcome: { rows, influence } }: { readonly outcome: Outcome }) {
  return (
    <>
      <Table caption="Ways of fitting, side by side" rows={rows} keyOf={({ what }) => what} columns={[
        { head: 'Fit', cell: ({ what }) => what },
        { head: 'AICc above the best', number: true, cell: ({ deltaAicc }) => number(deltaAicc, 1) },
        { head: 'Leaf left out, RWC points', number: true, cell: ({ leaveOneLeafOutPoints }) => number(leaveOneLeafOutPoints, 2) },
        { head: 'Bias, RWC points', number: true, cell: ({ biasPoints }) => number(biasPoints, 2) },
        { head: 'Lack of fit', number: true, cell: ({ lackOfFitP }) => (lackOfFitP === null ? '–' : `p ${pText(lackOfFitP)}`) },
        { head: 'Monotonic', cell: ({ monotonic }) => (monotonic ? 'yes' : 'no: refused') },
        { head: 'Remark', cell: ({ remark }) => remark ?? '' },
      ]} />
      <p>Where leaves give many readings each, AICc of a fit that counts all readings alike flatters it: the error on leaves left out decides.</p>
      {influence.length > 0 ? (
        <Table caption={`What each leaf does to the result${influence.length > INFLUENCE_MOST ? `, the ${INFLUENCE_MOST} strongest` : ''}`} rows={influence.slice(0, INFLUENCE_MOST)} keyOf={({ leaf }) => leaf} columns={[
          { head: 'Without leaf', cell: ({ leaf }) => leaf },
          { head: 'RWC read moves by, points', number: true, cell: ({ shiftPoints }) => number(shiftPoints, 2) },
          { head: 'One new leaf, points', number: true, cell: ({ newLeafHalfWidthPoints }) => `± ${number(newLeafHalfWidthPoints, 1)}` },
        ]} />
      ) : null}
    </>
  );
}
