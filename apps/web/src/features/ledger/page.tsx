import { Route, Routes } from 'react-router';
import { Nowhere } from '../../ui/nowhere.js';
import { CheckpointsScreen } from './parts/checkpoints-screen.js';
import { EntriesScreen } from './parts/entries-screen.js';
import { ProofScreen } from './parts/proof-screen.js';
import { ResultsScreen } from './parts/results-screen.js';

/** /ledger: every entry; /ledger/entry/:id: the proof of one; /ledger/checkpoints: what to keep outside; /ledger/results: whether results still follow. */
export function Screen() {
  return (
    <Routes>
      <Route index element={<EntriesScreen />} />
      <Route path="entry/:id" element={<ProofScreen />} />
      <Route path="checkpoints" element={<CheckpointsScreen />} />
      <Route path="results" element={<ResultsScreen />} />
      <Route path="*" element={<Nowhere />} />
    </Routes>
  );
}
