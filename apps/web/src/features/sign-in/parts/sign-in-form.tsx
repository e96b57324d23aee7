import { useSession } from '../../../app/session.js';
import { EntryForm, useEntry } from '../../../ui/entry.js';
import { PasswordField, TextField } from '../../../ui/fields.js';

const empty = { email: '', password: '' };

/** Opens a session. The same form serves the front door and a session that has ended under a page. */
export function SignInForm() {
  const { signIn } = useSession();
  const entry = useEntry({ initial: empty, keep: true, send: ({ email, password }) => signIn(email.trim(), password) });
  return (
    <EntryForm entry={entry} action="Sign in">
      <TextField {...entry.field('email')} label="Sign-in name" hint="Your e-mail address" autoComplete="username" inputMode="email" wide autoFocus />
      <PasswordField {...entry.field('password')} label="Password" autoComplete="current-password" wide />
    </EntryForm>
  );
}
