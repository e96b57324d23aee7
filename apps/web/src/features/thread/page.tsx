import { Route, Routes } from 'react-router';
import { Page, Strip } from '../../ui/page.js';
import { Empty } from '../../ui/words.js';
import { ThreadScreen } from './parts/thread-screen.js';

/** Everything a record rests on, down to the raw masses, or everything it touches, up to the decisions. */
export function Screen() {
  return (
    <Routes>
      <Route path=":kind/:id" element={<ThreadScreen />} />
      <Route path="*" element={<Page title="Thread"><Strip><Empty title="A thread begins at a record."><p>Open a decision, a certificate or a weighing and follow its thread from there.</p></Empty></Strip></Page>} />
    </Routes>
  );
}
