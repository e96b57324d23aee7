import { Route, Routes } from 'react-router';
import { Nowhere } from '../../ui/nowhere.js';
import { BatchScreen } from './parts/batch-screen.js';
import { CertificateScreen } from './parts/certificate-screen.js';
import { CertifyScreen } from './parts/certify-screen.js';
import { LightScreen } from './parts/light-screen.js';
import { LotCertifyScreen } from './parts/lot-certify-screen.js';
import { LotScreen } from './parts/lot-screen.js';
import { UnitScreen } from './parts/unit-screen.js';
import { UnitsScreen } from './parts/units-screen.js';

/** Units, how they trip, and the certificates that set their bias. */
export function Screen() {
  return (
    <Routes>
      <Route index element={<UnitsScreen />} />
      <Route path="light" element={<LightScreen />} />
      <Route path="certificate/:id" element={<CertificateScreen />} />
      <Route path="lot/:id" element={<LotScreen />} />
      <Route path="lot/:id/certify" element={<LotCertifyScreen />} />
      <Route path="batch/:id" element={<BatchScreen />} />
      <Route path=":id" element={<UnitScreen />} />
      <Route path=":id/certify" element={<CertifyScreen />} />
      <Route path="*" element={<Nowhere />} />
    </Routes>
  );
}
