import { Route, Routes } from 'react-router';
import { Nowhere } from '../../ui/nowhere.js';
import { CalibrationScreen } from './parts/calibration-screen.js';
import { CalibrationsScreen } from './parts/calibrations-screen.js';
import { CompareScreen } from './parts/compare-screen.js';
import { FitScreen } from './parts/fit-screen.js';
import { SpectraScreen } from './parts/spectra-screen.js';
import { PackScreen } from './parts/pack-screen.js';
import { SharedScreen } from './parts/shared-screen.js';
import { StudyTransferScreen } from './parts/study-transfer-screen.js';
import { TransferScreen } from './parts/transfer-screen.js';
import { VersionScreen } from './parts/version-screen.js';

/** Transmittance against RWC: fitted, judged, signed. */
export function Screen() {
  return (
    <Routes>
      <Route index element={<CalibrationsScreen />} />
      <Route path="spectra" element={<SpectraScreen />} />
      <Route path="compare" element={<CompareScreen />} />
      <Route path="pack" element={<PackScreen />} />
      <Route path="shared/:id" element={<SharedScreen />} />
      <Route path="version/:id" element={<VersionScreen />} />
      <Route path="version/:id/transfer" element={<StudyTransferScreen />} />
      <Route path="transfer/:id" element={<TransferScreen />} />
      <Route path=":id" element={<CalibrationScreen />} />
      <Route path=":id/fit" element={<FitScreen />} />
      <Route path="*" element={<Nowhere />} />
    </Routes>
  );
}
