import { Route, Routes } from 'react-router';
import { Nowhere } from '../../ui/nowhere.js';
import { CycleScreen } from './parts/cycle-screen.js';
import { CyclesScreen } from './parts/cycles-screen.js';
import { StartCycleScreen } from './parts/start-cycle-screen.js';

/** Drying discs to their dry mass. */
export function Screen() {
  return (
    <Routes>
      <Route index element={<CyclesScreen />} />
      <Route path="start" element={<StartCycleScreen />} />
      <Route path=":id" element={<CycleScreen />} />
      <Route path="*" element={<Nowhere />} />
    </Routes>
  );
}
