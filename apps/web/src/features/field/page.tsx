import { Route, Routes } from 'react-router';
import { Nowhere } from '../../ui/nowhere.js';
import { AgreementScreen } from './parts/agreement-screen.js';
import { DecideScreen } from './parts/decide-screen.js';
import { DecisionScreen, DecisionsScreen } from './parts/decision-screens.js';
import { FieldScreen } from './parts/field-screen.js';
import { InstallScreen } from './parts/install-screen.js';
import { InstallationScreen } from './parts/installation-screen.js';
import { MapScreen } from './parts/map-screen.js';
import { NewRuleScreen } from './parts/new-rule-screen.js';
import { RuleScreen } from './parts/rule-screen.js';
import { TripScreen } from './parts/trip-screen.js';
import { ZoneScreen } from './parts/zone-screen.js';

/** Units under leaves, what they told, and what was done. */
export function Screen() {
  return (
    <Routes>
      <Route index element={<FieldScreen />} />
      <Route path="install" element={<InstallScreen />} />
      <Route path="decide" element={<DecideScreen />} />
      <Route path="decisions" element={<DecisionsScreen />} />
      <Route path="decision/:id" element={<DecisionScreen />} />
      <Route path="trip/:id" element={<TripScreen />} />
      <Route path="map" element={<MapScreen />} />
      <Route path="agreement" element={<AgreementScreen />} />
      <Route path="zone/:name" element={<ZoneScreen />} />
      <Route path="zone/:name/rule" element={<NewRuleScreen />} />
      <Route path="rule/:id" element={<RuleScreen />} />
      <Route path=":id" element={<InstallationScreen />} />
      <Route path="*" element={<Nowhere />} />
    </Routes>
  );
}
