import { useQuery } from '@apollo/client/react';
import { lazy, Suspense, useState } from 'react';
import { formatNumber } from '#libs/quantity';
import type { SpectrumOf } from '../../../generated/graphql.js';
import { ChoiceField } from '../../../ui/fields.js';
import { Facts, Section } from '../../../ui/page.js';
import { Failed, Notice, Waiting } from '../../../ui/words.js';
import { BandWeighting } from '../spectrum-documents.js';
import styles from './calibrations.module.css';
import type { SpectrumSeen } from './seen.js';

const BandPlot = lazy(async () => ({ default: (await import('../../../plots/band-plot.js')).BandPlot }));

/** The same leaf as the rig sees it under its lamp, and as a device sees it under the sun. */
export function BandPart({ spectra }: { readonly spectra: readonly SpectrumSeen[] }) {
  const of = (...wanted: readonly SpectrumOf[]) => spectra.filter(({ spectrumOf }) => wanted.includes(spectrumOf)).map(({ id, label }) => ({ value: id, label }));
  const [leaves, lamps, bands, suns, absorbers] = [of('LEAF'), of('LAMP'), of('FILTER', 'ABSORBER'), of('SUN'), of('ABSORBER')];
  const [chosen, setChosen] = useState({ leaf: '', lamp: '', band: '', sun: '', device: '' });
  const [leafId, lampId, bandId] = [chosen.leaf || leaves[0]?.value, chosen.lamp || lamps[0]?.value, chosen.band || (of('FILTER')[0] ?? bands[0])?.value];
  const sunId = chosen.sun === 'none' ? null : chosen.sun || suns[0]?.value || null;
  const fieldBandId = ((id) => (id === 'same' || id === bandId ? null : id))(chosen.device || absorbers[0]?.value || 'same');
  const missing = [leafId ? [] : ['a leaf'], lampId ? [] : ['a lamp'], bandId ? [] : ['a filter or absorber']].flat();
  const { data, previousData, error, refetch } = useQuery(BandWeighting, { variables: { input: { leafId: leafId ?? '', lampId: lampId ?? '', bandId: bandId ?? '', sunId, fieldBandId } }, skip: missing.length > 0 });
  const answer = (data ?? previousData)?.bandWeighting;
  const set = (name: keyof typeof chosen) => (value: string): void => setChosen((before) => ({ ...before, [name]: value }));
  return (
    <Section title="What a band sees" lead={missing.length > 0 ? `Record the spectrum of ${missing.join(', of ')} first.` : 'The leaf weighted by light and band: on the rig by lamp and filter, in the field by sun and device. The factor turns a transmittance from the bench into the one in the field; it is for this leaf, at its water.'}>
      {missing.length > 0 ? null : (
        <>
          <div className={styles.four}>
            <ChoiceField name="leaf" label="Leaf" value={leafId ?? ''} onChange={set('leaf')} problem={null} unmarked choices={leaves} />
            <ChoiceField name="lamp" label="Lamp" value={lampId ?? ''} onChange={set('lamp')} problem={null} unmarked choices={lamps} />
            <ChoiceField name="band" label="Read on the rig through" value={bandId ?? ''} onChange={set('band')} problem={null} unmarked choices={bands} />
            <ChoiceField name="sun" label="Sun" value={sunId ?? 'none'} onChange={set('sun')} problem={null} unmarked choices={[{ value: 'none', label: 'no sun' }, ...suns]} />
            <ChoiceField name="device" label="Read in the field by" value={fieldBandId ?? 'same'} onChange={set('device')} problem={null} unmarked choices={[{ value: 'same', label: 'the same band' }, ...absorbers.filter(({ value }) => value !== bandId)]} />
          </div>
          {answer?.problem ? <Notice tone="alarm" title={answer.problem.message}>{answer.problem.remedy}</Notice> : null}
          {!answer ? (error ? <Failed what="the weighting" again={() => void refetch()} /> : <Waiting what="the weighting" />) : null}
          {answer?.weighting ? (
            <>
              <Suspense fallback={<Waiting what="the drawing" />}><BandPlot label="Transmittance of the leaf and what counts on the rig and in the field, against wavelength" points={answer.weighting.drawn} /></Suspense>
              <Facts rows={[
                { name: 'Transmittance as the rig sees it', value: formatNumber(answer.weighting.lamp.transmittance, 4) },
                answer.weighting.sun ? { name: 'Transmittance as the field sees it', value: formatNumber(answer.weighting.sun.transmittance, 4) } : null,
                answer.weighting.mismatch == null ? null : { name: 'Factor from rig to field', value: answer.weighting.mismatch.toFixed(3) },
                { name: 'Centre of what counts', value: `${formatNumber(answer.weighting.lamp.centreNm, 0)} nm${answer.weighting.sun ? ` on the rig, ${formatNumber(answer.weighting.sun.centreNm, 0)} nm in the field` : ''}` },
                answer.weighting.bandsOverlap == null ? null : { name: 'Device’s band over the rig’s', value: `${Math.round(100 * answer.weighting.bandsOverlap)} % in common` },
                { name: answer.weighting.bandsOverlap == null ? 'Band over the band of water' : 'Device’s band over the band of water', value: answer.weighting.waterOverlap == null ? 'not told: the band does not cover 1400 to 1600 nm' : `${Math.round(100 * answer.weighting.waterOverlap)} %` },
                { name: 'Over', value: `${formatNumber(answer.weighting.fromNm, 0)} to ${formatNumber(answer.weighting.toNm, 0)} nm, which all spectra cover` },
              ]} />
            </>
          ) : null}
        </>
      )}
    </Section>
  );
}
