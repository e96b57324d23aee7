import { Route, Routes } from 'react-router';
import { DiscScreen } from './parts/disc-screen.js';
import { DiscsScreen } from './parts/discs-screen.js';
import { LeafScreen } from './parts/leaf-screen.js';
import { PlantsScreen } from './parts/plants-screen.js';
import { SeriesScreen } from './parts/series-screen.js';

/** Where tissue comes from: crops, plants, leaves and the discs that are weighed. */
export function Screen() {
  return (
    <Routes>
      <Route index element={<DiscsScreen />} />
      <Route path="plants" element={<PlantsScreen />} />
      <Route path="leaf/:id" element={<LeafScreen />} />
      <Route path="disc/:id" element={<DiscScreen />} />
      <Route path="series/:id" element={<SeriesScreen />} />
    </Routes>
  );
}
