import { Route, Routes } from 'react-router';
import { Nowhere } from '../../ui/nowhere.js';
import { HydrationsScreen } from './parts/hydrations-screen.js';
import { OpenRunScreen } from './parts/open-run-screen.js';
import { RunScreen } from './parts/run-screen.js';
import { RunsScreen } from './parts/runs-screen.js';

/** Capture: drying runs, and the rhythm of one of them. */
export function Screen() {
  return (
    <Routes>
      <Route index element={<RunsScreen />} />
      <Route path="open" element={<OpenRunScreen />} />
      <Route path="water" element={<HydrationsScreen />} />
      <Route path=":id" element={<RunScreen />} />
      <Route path="*" element={<Nowhere />} />
    </Routes>
  );
}
