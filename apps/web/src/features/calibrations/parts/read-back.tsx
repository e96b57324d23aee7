import { useLazyQuery } from '@apollo/client/react';
import { useState } from 'react';
import type { FormEvent } from 'react';
import type { ReadBackQuery } from '../../../generated/graphql.js';
import { decimalText } from '../../../ui/entry.js';
import { NumberField } from '../../../ui/fields.js';
import { Facts } from '../../../ui/page.js';
import { Rwc, rwcInterval } from '../../../ui/quantity.js';
import type { ProblemSeen } from '../../../ui/send.js';
import { Action, Failed, Notice } from '../../../ui/words.js';
import { ReadBack } from '../documents.js';
import styles from './calibrations.module.css';

type Inverse = NonNullable<ReadBackQuery['calibrationVersion']>['rwcAt'];
export type ReadBackSeen = Inverse & { readonly transmittance: number };

/** A transmittance typed by a hand becomes RWC with both intervals, in words and on the drawing. */
export function ReadBackPart({ versionId, onRead }: { readonly versionId: string; readonly onRead: (read: ReadBackSeen | null) => void }) {
  const [text, setText] = useState('');
  const [unreadable, setUnreadable] = useState<ProblemSeen | null>(null);
  const [ask, { data, loading, error }] = useLazyQuery(ReadBack);
  const inverse = data?.calibrationVersion?.rwcAt;
  const transmittance = Number(decimalText(text));
  const submit = async (event?: FormEvent) => {
    event?.preventDefault();
    if (text.trim() === '' || !Number.isFinite(transmittance)) {
      setUnreadable({ code: 'INPUT', field: 'transmittance', message: `“${text}” is not a number.`, remedy: 'Give a fraction, for example 0.18.' });
      return;
    }
    const answer = await ask({ variables: { id: versionId, transmittance } });
    const read = answer.data?.calibrationVersion?.rwcAt;
    onRead(read && !read.problem ? { ...read, transmittance } : null);
  };
  const change = (next: string) => {
    setText(next);
    setUnreadable(null);
  };
  return (
    <>
      <form className={styles.readBack} onSubmit={(event) => void submit(event)} aria-label="Read RWC back" noValidate>
        <NumberField name="transmittance" label="Transmittance" hint="A fraction, for example 0.18" value={text} onChange={change} problem={unreadable ?? inverse?.problem ?? null} />
        <Action type="submit" waiting={loading}>Read RWC</Action>
      </form>
      <div aria-live="polite">
        {error ? <Failed what="the RWC" again={() => void submit()} /> : null}
        {inverse && !inverse.problem && inverse.rwc != null ? <ReadOut inverse={inverse} /> : null}
      </div>
    </>
  );
}

function ReadOut({ inverse }: { readonly inverse: Inverse }) {
  const { rwc, meanLow, meanHigh, newLeafLow, newLeafHigh, fiellerG } = inverse;
  return (
    <>
      <Facts rows={[
        { name: 'RWC', value: rwc == null ? '' : <Rwc value={rwc} /> },
        { name: 'One new leaf, 95 %', value: newLeafLow != null && newLeafHigh != null ? rwcInterval(newLeafLow, newLeafHigh) : 'not known: under three leaves' },
        { name: 'Mean line, 95 %', value: meanLow != null && meanHigh != null ? rwcInterval(meanLow, meanHigh) : 'none: the slope is too uncertain' },
      ]} />
      <p>The interval for one new leaf is the one that matters in the field.</p>
      {fiellerG != null && fiellerG > 0.05 ? <Notice tone="ask" title="The interval is not symmetric.">The slope is uncertain against its size (Fieller’s g {fiellerG.toFixed(2)}).</Notice> : null}
    </>
  );
}
