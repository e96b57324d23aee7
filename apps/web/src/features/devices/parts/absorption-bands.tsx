import { useQuery } from '@apollo/client/react';
import { lazy, Suspense, useMemo, useState } from 'react';
import { Link } from 'react-router';
import { formatPercentPlain } from '#libs/quantity';
import type { BandFieldsFragment } from '../../../generated/graphql.js';
import { decimalText, EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { ChoiceField, MomentField, NumberField, TextField } from '../../../ui/fields.js';
import { FileField } from '../../../ui/file-field.js';
import { Section } from '../../../ui/page.js';
import { threadPath } from '../../../ui/paths.js';
import { fractionTextOfPercent } from '../../../ui/percent-text.js';
import { usePayload } from '../../../ui/send.js';
import { AmendedMark } from '../../../ui/state.js';
import { Table } from '../../../ui/table.js';
import { localInput, Moment, momentFromInput } from '../../../ui/time.js';
import { Empty, Waiting } from '../../../ui/words.js';
import { AbsorberSpectra, RecordAbsorptionBand } from '../documents.js';
import { FileLink } from './file-link.js';
import { Folded } from './folded.js';

type Band = BandFieldsFragment;

const AbsorptionPlot = lazy(async () => ({ default: (await import('../../../plots/absorption-plot.js')).AbsorptionPlot }));

const columns = [
  { head: 'Centre', number: true, cell: ({ centreNm }: Band) => `${centreNm} nm` },
  { head: 'Full width at half maximum, nm', number: true, cell: ({ widthNm }: Band) => widthNm },
  { head: 'Taken up at the peak', number: true, cell: ({ peakAbsorptance }: Band) => (peakAbsorptance ? formatPercentPlain(Number(peakAbsorptance), 0) : 'not measured') },
  { head: 'Over the band of water', number: true, cell: ({ spectrum }: Band) => (spectrum?.waterOverlap == null ? 'not known' : formatPercentPlain(spectrum.waterOverlap, 0)) },
  { head: 'From', cell: ({ method, file, spectrum }: Band) => <>{spectrum ? <><Link to={threadPath('spectrum', spectrum.id)}>{spectrum.label}</Link>, </> : null}{method} <FileLink file={file ?? null} /></> },
  { head: 'When', cell: ({ observedAt }: Band) => <Moment at={observedAt} /> },
  { head: 'By', cell: ({ recordedBy, amendedBy }: Band) => <>{recordedBy.displayName}{amendedBy ? <><br /><AmendedMark /> {amendedBy.reason}</> : null}</> },
] as const;

interface BandsProps {
  /** Whose bands: a unit's or a lot's. */
  readonly of: { readonly deviceUnitId: string } | { readonly deviceLotId: string };
  readonly label: string;
  readonly lead: string;
  readonly bands: readonly Band[];
  /** Bands of the lot, which count for a unit without its own. */
  readonly ofLot?: { readonly label: string; readonly bands: readonly Band[] };
  readonly mayRecord: boolean;
  readonly onRecorded: () => void;
}

const standing = (bands: readonly Band[]): readonly Band[] => bands.filter(({ amendedBy }) => !amendedBy);

const drawable = ({ spectrum, centreNm, widthNm }: Band) =>
  (spectrum ? [{ label: spectrum.label, wavelengthNm: spectrum.wavelengthNm, values: spectrum.values, centreNm: Number(centreNm), widthNm: Number(widthNm) }] : []);

/** Where a unit, or a lot, takes light up, and how that lies over the band of water. */
export function AbsorptionBands({ of, label, lead, bands, ofLot, mayRecord, onRecorded }: BandsProps) {
  const borrowed = useMemo(() => (standing(bands).length === 0 && ofLot ? standing(ofLot.bands) : []), [bands, ofLot]);
  const drawn = useMemo(() => [...standing(bands), ...borrowed].flatMap(drawable).reverse().slice(0, MOST_DRAWN), [bands, borrowed]);
  return (
    <Section title="Absorption band" lead={lead}>
      {bands.length > 0 ? <Table caption={`Absorption bands of ${label}`} columns={columns} rows={bands} keyOf={({ id }) => id} struck={({ amendedBy }) => amendedBy != null} /> : null}
      {borrowed.length > 0 ? <><p>No band of its own is recorded; that of {ofLot!.label} counts.</p><Table caption={`Absorption bands of ${ofLot!.label}`} columns={columns} rows={borrowed} keyOf={({ id }) => id} /></> : null}
      {bands.length === 0 && borrowed.length === 0 ? <Empty title="No band is recorded." /> : null}
      {drawn.length > 0 ? <Suspense fallback={<Waiting what="the drawing" />}><AbsorptionPlot label={`What ${label} takes up by wavelength`} spectra={drawn} /></Suspense> : null}
      {mayRecord ? <BandEntry of={of} onRecorded={onRecorded} /> : null}
    </Section>
  );
}

const MOST_DRAWN = 4;

function BandEntry({ of, onRecorded }: Pick<BandsProps, 'of' | 'onRecorded'>) {
  const send = usePayload();
  const { data } = useQuery(AbsorberSpectra, { fetchPolicy: 'cache-and-network' });
  const [initial] = useState(() => ({ spectrumId: '', centreNm: '', widthNm: '', peakAbsorptance: '', method: '', storedFileId: '', observedAt: localInput(new Date()) }));
  const entry = useEntry({
    initial,
    send: ({ spectrumId, centreNm, widthNm, peakAbsorptance, method, storedFileId, observedAt }, id) => send(RecordAbsorptionBand, {
      input: {
        id, ...of, observedAt: momentFromInput(observedAt), method: method.trim(),
        ...(spectrumId ? { spectrumId } : {
          centreNm: decimalText(centreNm), widthNm: decimalText(widthNm), peakAbsorptance: peakAbsorptance.trim() === '' ? null : fractionTextOfPercent(peakAbsorptance), storedFileId: orNull(storedFileId),
        }),
      },
    }),
    onRecorded,
  });
  const stated = entry.values.spectrumId === '';
  const choices = (data?.spectra ?? []).filter(({ amendedBy }) => !amendedBy).map(({ id, label, peakNm }) => ({ value: id, label: `${label}, peak ${Math.round(peakNm)} nm` }));
  return (
    <Folded title="Record an absorption band">
      <p>Centre and width follow from a recorded spectrum of an absorber; record one under <Link to="/calibrations/spectra">Calibrations, Spectra</Link>. Without one, state them.</p>
      <EntryForm entry={entry} action="Record band">
        <ChoiceField {...entry.field('spectrumId')} label="Spectrum" choices={choices} none="None: centre and width are stated" optional wide />
        {stated ? (
          <>
            <NumberField {...entry.field('centreNm')} label="Centre, nm" />
            <NumberField {...entry.field('widthNm')} label="Full width at half maximum, nm" />
            <NumberField {...entry.field('peakAbsorptance')} label="Taken up at the peak, %" optional />
          </>
        ) : null}
        <MomentField {...entry.field('observedAt')} label="Measured at" />
        <TextField {...entry.field('method')} label="How it was measured" wide />
        {stated ? <FileField {...entry.field('storedFileId')} label="File" purpose="SPECTRUM" hint="What the spectrometer wrote, where it cannot be read as a spectrum" optional wide /> : null}
      </EntryForm>
    </Folded>
  );
}
