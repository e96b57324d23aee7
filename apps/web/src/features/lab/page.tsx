import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { Route, Routes } from 'react-router';
import { useHasRole, useSession } from '../../app/session.js';
import { useLive } from '../../ui/live.js';
import { Page, Section } from '../../ui/page.js';
import { roleWord } from '../../ui/roles.js';
import { Table } from '../../ui/table.js';
import { Action, ActionLink, Failed, Waiting } from '../../ui/words.js';
import { Nowhere } from '../../ui/nowhere.js';
import { PeopleTable } from './documents.js';
import { AddMemberDialog } from './parts/add-member.js';
import { PasswordEntry } from './parts/change-password.js';
import { SecondFactor } from './parts/second-factor.js';
import { Tokens } from './parts/tokens.js';
import { ProtocolScreen } from './protocols/protocol-screen.js';
import { ProtocolsScreen } from './protocols/protocols-screen.js';
import { WriteProtocolScreen } from './protocols/write-protocol-screen.js';

/** The lab: its people, and how it works. */
export function Screen() {
  return (
    <Routes>
      <Route index element={<LabScreen />} />
      <Route path="protocols" element={<ProtocolsScreen />} />
      <Route path="protocols/write" element={<WriteProtocolScreen />} />
      <Route path="protocols/:id" element={<ProtocolScreen />} />
      <Route path="*" element={<Nowhere />} />
    </Routes>
  );
}

/** People of the lab with their roles, and one's own password. */
function LabScreen() {
  const { me } = useSession();
  const mayAdd = useHasRole('ADMINISTRATOR');
  const [adding, setAdding] = useState(false);
  const { data, error, refetch } = useQuery(PeopleTable);
  useLive(() => refetch());
  return (
    <Page title="Lab" lead={me?.lab.name}>
      <Section title="People" margin={data ? `${data.people.length} in all` : null} actions={mayAdd ? <Action onClick={() => setAdding(true)}>Add a member</Action> : null}>
        {!data ? (error ? <Failed what="the people" again={() => void refetch()} /> : <Waiting what="the people" />) : (
          <Table caption="People of this lab" rows={data.people} keyOf={({ person }) => person.id} columns={[
            { head: 'Name', cell: ({ person }) => (person.id === me?.person.id ? `${person.displayName} (you)` : person.displayName) },
            { head: 'Roles', cell: ({ roles }) => roles.map(roleWord).join(', ') },
            { head: 'Sign-in name', cell: ({ email }) => email },
          ]} />
        )}
      </Section>
      <Tokens />
      <Section title="Protocols" lead="How the lab works at the bench, version by version, and who approved it."><p><ActionLink to="/lab/protocols">Look at the protocols</ActionLink></p></Section>
      <Section title="My password" lead="At least 12 characters. A few words in a row are easier to keep in mind than signs."><PasswordEntry /></Section>
      <Section title="My second factor" lead="A code from an authenticator program on your phone, asked for besides the password when you sign in and when you sign a result."><SecondFactor /></Section>
      <AddMemberDialog opened={adding} onClose={() => setAdding(false)} onAdded={() => { setAdding(false); void refetch(); }} />
    </Page>
  );
}
