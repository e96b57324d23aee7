import { simulateSpectra, type Scenario } from '#libs/simulator';
import type { ApiClient } from '../client.js';

/** Records the spectra of a demo lab with their files. What is there already is a replay. */
export async function recordSpectra(client: ApiClient, scenario: Scenario, at: string, id: (key: string) => string): Promise<void> {
  for (const { key, spectrumOf, label, csv, note } of simulateSpectra(scenario)) {
    const storedFileId = id(`file of ${key}`);
    await client.storeFile({ id: storedFileId, name: `${key.replace(' ', '-')}.csv`, purpose: 'SPECTRUM' }, Buffer.from(csv));
    await client.send('recordSpectrum', 'RecordSpectrumInput', { id: id(key), label, spectrumOf: spectrumOf.toUpperCase(), observedAt: at, storedFileId, fileKind: 'TABLE', note });
  }
}
