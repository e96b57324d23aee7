import { useState } from 'react';
import { EntryForm, useEntry } from '../../../ui/entry.js';
import { PasswordField } from '../../../ui/fields.js';
import { usePayload } from '../../../ui/send.js';
import { Notice } from '../../../ui/words.js';
import { ChangePassword } from '../documents.js';

const empty = { current: '', next: '' };

/** Changes one's own password. */
export function PasswordEntry() {
  const send = usePayload();
  const [changed, setChanged] = useState(false);
  const entry = useEntry({
    initial: empty,
    send: (values) => send(ChangePassword, { current: values.current, next: values.next }),
    onRecorded: () => setChanged(true),
  });
  return (
    <>
      {changed ? <Notice tone="calm" title="Your password is changed." /> : null}
      <EntryForm entry={entry} action="Change password">
        <PasswordField {...entry.field('current')} label="Password now" autoComplete="current-password" />
        <PasswordField {...entry.field('next')} label="New password" autoComplete="new-password" />
      </EntryForm>
    </>
  );
}
