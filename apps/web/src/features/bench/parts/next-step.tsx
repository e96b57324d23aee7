import { useCallback, useEffect, useMemo, useState } from 'react';
import type { ReactNode } from 'react';
import { onThisClock } from '../../../offline/clock.js';
import { useOutbox } from '../../../offline/outbox.js';
import type { Kept } from '../../../offline/store.js';
import { SegmentField } from '../../../ui/fields.js';
import { Countdown } from '../../../ui/time.js';
import { Action, Caution, Notice } from '../../../ui/words.js';
import { Bell } from './bell.js';
import { sound } from './sound.js';
import styles from './bench.module.css';
import { LineState } from './line-state.js';
import { MeterForm } from './meter-form.js';
import { nextStep } from './rhythm.js';
import type { Part, Step } from './rhythm.js';
import type { Told } from './large-number.js';
import { doneInRun } from './run.js';
import type { Run } from './run.js';
import { TakeBack } from './take-back.js';
import { WeighForm } from './weigh-form.js';

const discOf = (step: Step): string => ('discId' in step ? step.discId : '');
const keyOf = (step: Step | null): string => (step ? `${step.kind} ${discOf(step)} ${'state' in step ? step.state : ''}` : '');
const titles = { weighing: 'Weigh', reading: 'Read', dark: 'Dark: shut the light', reference: 'Reference: diffuser in the beam' } as const;

/** What became of a write that was kept: it may have been sent meanwhile, or refused. */
function outcomeOf({ id, kept }: Told, waiting: readonly Kept[]): string {
  if (!kept) return 'Recorded';
  const still = waiting.find(({ input }) => input.id === id);
  if (still) return still.problem ? 'Refused, see Not sent yet' : 'Kept on this computer, not sent yet';
  return 'Sent meanwhile and recorded';
}

/** The rhythm: what the hand does next, how long until then, and one large number to confirm. */
export function NextStep({ run, onRecorded }: { readonly run: Run; readonly onRecorded: () => void }) {
  const { waiting } = useOutbox();
  // What was just recorded counts at once: a form of the step that is over, shown until the server's list is here, would catch the next number.
  const [just, setJust] = useState<readonly Told[]>([]);
  const [part, setPart] = useState<Part>(rememberedPart);
  const stepAfter = useCallback(
    (latest: readonly Told[]) => nextStep({ discIds: run.discs.map(({ id }) => id), rhythmMin: run.rhythmMin, bracketMin: run.parameters.bracketMin, part, done: doneInRun(run, waiting, latest) }),
    [run, waiting, part],
  );
  const suggested = useMemo(() => stepAfter(just), [stepAfter, just]);
  const [held, setHeld] = useState<Step | null>(suggested);
  const [chosen, setChosen] = useState(false);
  const [typing, setTyping] = useState(false);
  const [count, setCount] = useState(0);
  const [told, setTold] = useState<Told | null>(null);
  // A number half typed belongs to the disc in the hand: nothing that others record may move it to another.
  useEffect(() => {
    if (!typing && !chosen) setHeld(suggested);
  }, [suggested, typing, chosen]);
  const choose = (step: Step) => {
    setHeld(step);
    setChosen(true);
  };
  const recorded = (what: Told) => {
    const latest = [...just, what];
    setJust(latest);
    setHeld(stepAfter(latest));
    setTold(what);
    sound('recorded');
    setTyping(false);
    setChosen(false);
    setCount((before) => before + 1);
    onRecorded();
  };
  const takenBack = ({ id }: Told) => {
    const latest = just.filter((each) => each.id !== id);
    setJust(latest);
    setTold(null);
    setChosen(false);
    onRecorded();
  };
  if (!held) return <Notice tone="ask" title="This run has no disc." />;
  const disc = run.discs.find(({ id }) => id === discOf(held));
  const moved = typing && !chosen && keyOf(suggested) !== keyOf(held);
  const shared = { run, onTyping: setTyping, onRecorded: recorded };
  return (
    <div className={styles.panel}>
      <header className={styles.act}>
        <h3>{titles[held.kind]} {disc ? <strong>{disc.label}</strong> : null}</h3>
        <p>{held.dueMs === null ? <strong>Now.</strong> : <Countdown to={new Date(onThisClock(held.dueMs)).toISOString()} />} <span>{held.why}</span></p>
      </header>
      {moved ? <Notice tone="ask" title="Somebody else has recorded something in this run meanwhile.">What you type is still for {disc?.label ?? 'this step'}. Look at the list below before you record it.</Notice> : null}
      {held.kind === 'weighing' && disc
        ? <WeighForm key={`${count} ${keyOf(held)}`} {...shared} disc={disc} state={held.state} onOtherDisc={(discId) => choose({ ...held, discId, dueMs: null, why: 'Scanned instead.' })} />
        : <MeterForm key={`${count} ${keyOf(held)}`} {...shared} kind={held.kind === 'weighing' ? 'reading' : held.kind} disc={disc ?? null} />}
      <div className={styles.toldLine}>
        <p className={styles.told} role="status">{told ? `${outcomeOf(told, waiting)}: ${told.what}.` : ''}</p>
        {told && !waiting.some(({ input }) => input.id === told.id) ? <TakeBack key={told.id} told={told} onTakenBack={takenBack} /> : null}
      </div>
      <LineState instrument={held.kind === 'weighing' ? run.balance : run.rig.meter} />
      <OtherStep run={run} held={held} onChoose={choose} onBack={chosen ? () => setChosen(false) : null} beside={<><PartChoice part={part} onChoose={setPart} /><Bell dueMs={held.dueMs === null ? null : onThisClock(held.dueMs)} /></>} />
      <StepCaution kind={held.kind} />
    </div>
  );
}

/** What the hand can be hurt by in this act. */
function StepCaution({ kind }: { readonly kind: Step['kind'] }) {
  if (kind === 'weighing') return <Caution title="Blade and punch.">Lay them down with their guards on before you weigh; cut away from the hand on a firm board.</Caution>;
  return <Caution title="Lamp.">The lamp and its housing are hot, and most of its light cannot be seen: do not look into the beam, keep paper and solvent away.</Caution>;
}

const partKey = 'threadleaf.part';
const parts = [['all', 'Weigh and read'], ['weighing', 'Weigh only'], ['meter', 'Read only']] as const;
const rememberedPart = (): Part => parts.find(([value]) => value === localStorage.getItem(partKey))?.[0] ?? 'all';

/** Two people at one bench: each device proposes the acts of its person only. */
function PartChoice({ part, onChoose }: { readonly part: Part; readonly onChoose: (part: Part) => void }) {
  const choose = (value: string) => {
    const chosen = parts.find(([each]) => each === value)?.[0] ?? 'all';
    localStorage.setItem(partKey, chosen);
    onChoose(chosen);
  };
  return (
    <label className={styles.part}>
      At this device
      <select value={part} onChange={(event) => choose(event.currentTarget.value)}>{parts.map(([value, label]) => <option key={value} value={value}>{label}</option>)}</select>
    </label>
  );
}

const kinds = [
  { value: 'weighing', label: 'Weigh' }, { value: 'reading', label: 'Read' }, { value: 'dark', label: 'Dark' }, { value: 'reference', label: 'Reference' },
] as const;

interface OtherStepProps {
  readonly run: Run;
  readonly held: Step;
  readonly onChoose: (step: Step) => void;
  readonly onBack: (() => void) | null;
  readonly beside: ReactNode;
}

/** Anything else than what the rhythm proposes: another disc, another act. */
function OtherStep({ run, held, onChoose, onBack, beside }: OtherStepProps) {
  const [open, setOpen] = useState(false);
  const discId = discOf(held) || (run.discs[0]?.id ?? '');
  const change = (kind: string, disc: string) => {
    const why = 'Chosen by you.';
    if (kind === 'dark' || kind === 'reference') onChoose({ kind, dueMs: null, why });
    else if (kind === 'reading') onChoose({ kind, discId: disc, dueMs: null, why });
    else onChoose({ kind: 'weighing', discId: disc, state: held.kind === 'weighing' ? held.state : 'DRYING', dueMs: null, why });
  };
  return (
    <div className={styles.other}>
      <div className={styles.otherHead}>
        <button type="button" aria-expanded={open} onClick={() => setOpen(!open)}>Do something else</button>
        {onBack ? <Action kind="quiet" onClick={onBack}>Back to the rhythm</Action> : null}
        {beside}
      </div>
      {open ? (
        <>
          <SegmentField name="kind" label="What" value={held.kind} onChange={(kind) => change(kind, discId)} problem={null} choices={kinds} />
          {'discId' in held ? <SegmentField name="disc" label="Which disc" value={held.discId} onChange={(disc) => change(held.kind, disc)} problem={null} choices={run.discs.map(({ id, label }) => ({ value: id, label }))} /> : null}
        </>
      ) : null}
    </div>
  );
}
