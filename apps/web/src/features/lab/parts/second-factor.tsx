import { useState } from 'react';
import { useSession } from '../../../app/session.js';
import { EntryForm, useEntry } from '../../../ui/entry.js';
import { PasswordField, TextField } from '../../../ui/fields.js';
import { usePayload } from '../../../ui/send.js';
import { DoneMark } from '../../../ui/state.js';
import { Action, Notice } from '../../../ui/words.js';
import { ConfirmSecondFactor, RemoveSecondFactor, StartSecondFactor } from '../documents.js';
import styles from './second-factor.module.css';

interface Begun {
  readonly secret: string;
  readonly squareCode: string;
}

/** Sets, shows and removes the second factor of the person signed in. */
export function SecondFactor() {
  const { me, refresh } = useSession();
  const [begun, setBegun] = useState<Begun | null>(null);
  const [recoveryCodes, setRecoveryCodes] = useState<readonly string[] | null>(null);
  const { set = false, recoveryCodesLeft = 0 } = me?.secondFactor ?? {};
  if (recoveryCodes) return <RecoveryCodes codes={recoveryCodes} onKept={() => setRecoveryCodes(null)} />;
  if (begun && !set) {
    return <Confirm begun={begun} onLeft={() => setBegun(null)} onConfirmed={(codes) => { setBegun(null); setRecoveryCodes(codes); void refresh(); }} />;
  }
  return (
    <>
      <p><DoneMark done={set} word={set ? 'set' : 'not set'} />{set ? `; ${recoveryCodesLeft} of 10 recovery codes not used yet` : null}</p>
      {set && recoveryCodesLeft < 3 ? <Notice tone="ask" title="Few recovery codes are left.">Remove the second factor and set it anew to get ten new ones.</Notice> : null}
      {set ? <Remove onRemoved={() => void refresh()} /> : <Start onBegun={setBegun} />}
    </>
  );
}

const noPassword = { password: '' };

function Start({ onBegun }: { readonly onBegun: (begun: Begun) => void }) {
  const send = usePayload();
  const entry = useEntry({
    initial: noPassword,
    send: ({ password }) => send(StartSecondFactor, { password }),
    onRecorded: ({ secret, squareCode }) => { if (secret && squareCode) onBegun({ secret, squareCode }); },
  });
  return (
    <EntryForm entry={entry} action="Set a second factor" disabled={entry.values.password === ''}>
      <PasswordField {...entry.field('password')} label="Your password, again" autoComplete="current-password" />
    </EntryForm>
  );
}

const noCode = { code: '' };

interface ConfirmProps {
  readonly begun: Begun;
  readonly onConfirmed: (recoveryCodes: readonly string[]) => void;
  readonly onLeft: () => void;
}

function Confirm({ begun, onConfirmed, onLeft }: ConfirmProps) {
  const send = usePayload();
  const entry = useEntry({
    initial: noCode,
    send: ({ code }) => send(ConfirmSecondFactor, { code }),
    onRecorded: ({ recoveryCodes }) => onConfirmed(recoveryCodes ?? []),
  });
  return (
    <div className={styles.enrol}>
      <img className={styles.code} alt="Square code for an authenticator" src={`data:image/svg+xml,${encodeURIComponent(begun.squareCode)}`} />
      <div>
        <p>Scan the square code with an authenticator program. Where no picture can be taken, type this secret into it:</p>
        <p className={styles.secret}>{begun.secret.match(/.{1,4}/g)?.join(' ')}</p>
        <EntryForm entry={entry} action="Confirm" label="Confirm the second factor" onCancel={onLeft} disabled={entry.values.code === ''}>
          <TextField {...entry.field('code')} label="Code" hint="The six digits that it shows now" autoComplete="one-time-code" inputMode="numeric" autoFocus />
        </EntryForm>
      </div>
    </div>
  );
}

function RecoveryCodes({ codes, onKept }: { readonly codes: readonly string[]; readonly onKept: () => void }) {
  return (
    <>
      <Notice tone="ask" title="Your second factor is set. Keep these recovery codes now: they are shown this once.">
        Each opens the door once in place of a code, for the day the phone is lost. Print them or write them down, and keep them away from the phone.
      </Notice>
      <ul className={styles.recovery} aria-label="Recovery codes">{codes.map((code) => <li key={code}>{code}</li>)}</ul>
      <div><Action onClick={onKept}>I have kept them</Action></div>
    </>
  );
}

const nothing = { password: '', code: '' };

function Remove({ onRemoved }: { readonly onRemoved: () => void }) {
  const send = usePayload();
  const entry = useEntry({ initial: nothing, send: ({ password, code }) => send(RemoveSecondFactor, { password, code }), onRecorded: onRemoved });
  return (
    <EntryForm entry={entry} action="Remove second factor" disabled={entry.values.password === '' || entry.values.code === ''}>
      <PasswordField {...entry.field('password')} label="Your password, again" autoComplete="current-password" />
      <TextField {...entry.field('code')} label="Code" hint="Of the authenticator now, or a recovery code" autoComplete="one-time-code" />
    </EntryForm>
  );
}
