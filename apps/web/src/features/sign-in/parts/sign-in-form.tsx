import { useState } from 'react';
import { useSession } from '../../../app/session.js';
import { EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { PasswordField, TextField } from '../../../ui/fields.js';

const empty = { email: '', password: '', code: '' };

/** Opens a session. The same form serves the front door and a session that has ended under a page. */
export function SignInForm() {
  const { signIn } = useSession();
  const [asksCode, setAsksCode] = useState(false);
  const entry = useEntry({
    initial: empty,
    keep: true,
    send: ({ email, password, code }) => signIn(email.trim(), password, orNull(code)),
    onRefused: ({ code }) => setAsksCode((before) => before || code === 'SECOND_FACTOR'),
  });
  return (
    <EntryForm entry={entry} action="Sign in">
      <TextField {...entry.field('email')} label="Sign-in name" hint="Your e-mail address" autoComplete="username" inputMode="email" wide autoFocus />
      <PasswordField {...entry.field('password')} label="Password" autoComplete="current-password" wide />
      {asksCode ? <TextField {...entry.field('code')} label="Code" hint="What your authenticator shows now, or a recovery code" autoComplete="one-time-code" wide autoFocus /> : null}
    </EntryForm>
  );
}
