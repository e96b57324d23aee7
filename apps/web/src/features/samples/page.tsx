import { Route, Routes } from 'react-router';
import { Nowhere } from '../../ui/nowhere.js';
import { DiscScreen } from './parts/disc-screen.js';
import { DiscsScreen } from './parts/discs-screen.js';
import { LabelsScreen } from './parts/labels-screen.js';
import { LeafScreen } from './parts/leaf-screen.js';
import { PlaceScreen } from './parts/place-screen.js';
import { PlacesScreen } from './parts/places-screen.js';
import { PlantScreen } from './parts/plant-screen.js';
import { PlantsScreen } from './parts/plants-screen.js';
import { RecordSamplesScreen } from './parts/record-samples-screen.js';
import { SeriesScreen } from './parts/series-screen.js';

/** Where tissue comes from: crops, plants, leaves and the discs that are weighed. */
export function Screen() {
  return (
    <Routes>
      <Route index element={<DiscsScreen />} />
      <Route path="plants" element={<PlantsScreen />} />
      <Route path="record" element={<RecordSamplesScreen />} />
      <Route path="places" element={<PlacesScreen />} />
      <Route path="place/:id" element={<PlaceScreen />} />
      <Route path="labels" element={<LabelsScreen />} />
      <Route path="plant/:id" element={<PlantScreen />} />
      <Route path="leaf/:id" element={<LeafScreen />} />
      <Route path="disc/:id" element={<DiscScreen />} />
      <Route path="series/:id" element={<SeriesScreen />} />
      <Route path="*" element={<Nowhere />} />
    </Routes>
  );
}
