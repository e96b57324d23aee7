import { Route, Routes } from 'react-router';
import { Nowhere } from '../../ui/nowhere.js';
import { FaultScreen } from './parts/fault-screen.js';
import { InstrumentScreen } from './parts/instrument-screen.js';
import { InstrumentsScreen } from './parts/instruments-screen.js';
import { RigScreen } from './parts/rig-screen.js';

/** What measures, and whether it may be trusted now. */
export function Screen() {
  return (
    <Routes>
      <Route index element={<InstrumentsScreen />} />
      <Route path="rig/:id" element={<RigScreen />} />
      <Route path=":id" element={<InstrumentScreen />} />
      <Route path=":id/fault" element={<FaultScreen />} />
      <Route path="*" element={<Nowhere />} />
    </Routes>
  );
}
