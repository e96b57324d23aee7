import type { Role } from '../../../generated/graphql.js';
import { EntryForm, useEntry } from '../../../ui/entry.js';
import { PasswordField, TextField, TicksField } from '../../../ui/fields.js';
import { roles, roleWord } from '../../../ui/roles.js';
import { usePayload } from '../../../ui/send.js';
import { Dialog } from '../../../ui/words.js';
import { AddMember } from '../documents.js';

interface AddMemberProps {
  readonly opened: boolean;
  readonly onClose: () => void;
  readonly onAdded: () => void;
}

export function AddMemberDialog({ opened, onClose, onAdded }: AddMemberProps) {
  return <Dialog title="Add a member" opened={opened} onClose={onClose}><MemberEntry onClose={onClose} onAdded={onAdded} /></Dialog>;
}

const empty = { email: '', displayName: '', password: '', roles: [] as readonly string[] };

function MemberEntry({ onClose, onAdded }: Omit<AddMemberProps, 'opened'>) {
  const send = usePayload();
  const entry = useEntry({
    initial: empty,
    send: (values) => send(AddMember, { input: { email: values.email.trim(), displayName: values.displayName.trim(), password: values.password === '' ? null : values.password, roles: [...values.roles] as Role[] } }),
    onRecorded: onAdded,
  });
  return (
    <EntryForm entry={entry} action="Add member" onCancel={onClose}>
      <TextField {...entry.field('email')} label="Sign-in name" hint="Their e-mail address" inputMode="email" />
      <TextField {...entry.field('displayName')} label="Name" hint="As it stands beside what they record" />
      <PasswordField {...entry.field('password')} label="First password" hint="At least 12 characters; empty where they have an account already" autoComplete="new-password" optional />
      <TicksField {...entry.field('roles')} label="Roles" choices={roles.map((role) => ({ value: role, label: roleWord(role) }))} empty={null} />
    </EntryForm>
  );
}
