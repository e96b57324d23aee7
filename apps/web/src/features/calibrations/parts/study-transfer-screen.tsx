import { useQuery } from '@apollo/client/react';
import { useMemo, useState } from 'react';
import { useNavigate, useParams } from 'react-router';
import type { LeafEffects, TransferChoicesQuery } from '../../../generated/graphql.js';
import { decimalText, EntryForm, useEntry } from '../../../ui/entry.js';
import { ChoiceField, NumberField, SegmentField, TicksField } from '../../../ui/fields.js';
import { Back, Page, Section, Strip } from '../../../ui/page.js';
import { fractionOfPercent } from '../../../ui/percent-text.js';
import { rwcInterval } from '../../../ui/quantity.js';
import { usePayload } from '../../../ui/send.js';
import { Empty, Failed, Notice, Waiting } from '../../../ui/words.js';
import { StudyTransfer, StudyWaterThickness, TransferChoices, TransferRuns } from '../transfer-documents.js';

type Version = NonNullable<TransferChoicesQuery['calibrationVersion']>;

const bases = [{ value: 'READINGS', label: 'Own leaves, dried and read in the light' }, { value: 'WATER_THICKNESS', label: 'Turgid and dry masses alone' }] as const;
const effectChoices = [{ value: 'AUTO', label: 'Height, and slope where AIC says so' }, { value: 'HEIGHT', label: 'Height alone' }, { value: 'HEIGHT_AND_SLOPE', label: 'Height and slope' }] as const;

/** Holds a calibration against leaves it has not seen: what is asked is stated here, before there is an answer. */
export function StudyTransferScreen() {
  const { id = '' } = useParams();
  const { data, error, refetch } = useQuery(TransferChoices, { variables: { id } });
  const [basis, setBasis] = useState('READINGS');
  const [cropId, setCropId] = useState('');
  const back = <Back to={`/calibrations/version/${id}`}>Version</Back>;
  if (!data) return <Page title="Try a calibration on other leaves" margin={back}><Strip>{error ? <Failed what="the calibration" again={() => void refetch()} /> : <Waiting what="the calibration" />}</Strip></Page>;
  const { calibrationVersion: version, crops } = data;
  if (!version) return <Page title="Try a calibration on other leaves" margin={back}><Strip><Empty title="No calibration version of this lab has this address." /></Strip></Page>;
  const chosen = cropId || version.calibration.crop.id;
  return (
    <Page title={`Try ${version.calibration.label}, version ${version.version} on other leaves`} margin={back}
      lead={`Made with ${version.leafCount} leaves of ${version.calibration.crop.name} on ${version.rig.label} version ${version.rig.version}, RWC ${rwcInterval(version.rwcMin, version.rwcMax)}. Does it hold for leaves it has not seen: of another crop, another rig, another season?`}>
      <Section title="Which leaves">
        <SegmentField name="basis" label="What is known of them" wide value={basis} onChange={setBasis} problem={null} unmarked choices={bases} />
        <ChoiceField name="crop" label="Crop of the leaves" value={chosen} onChange={setCropId} problem={null} unmarked choices={crops.map(({ id: value, name }) => ({ value, label: name }))} />
      </Section>
      {basis === 'READINGS' ? <ReadingsPart key={chosen} version={version} cropId={chosen} /> : <ThicknessPart key={chosen} version={version} cropId={chosen} cropName={crops.find((crop) => crop.id === chosen)?.name ?? ''} />}
    </Page>
  );
}

interface PartProps {
  readonly version: Version;
  readonly cropId: string;
}

const first = { dryingRunIds: [] as readonly string[], marginPoints: '5', rwcFrom: '', rwcTo: '', leafEffects: 'AUTO' };

const percentOrNull = (text: string): number | null => (text.trim() === '' ? null : fractionOfPercent(text));

function ReadingsPart({ version, cropId }: PartProps) {
  const send = usePayload();
  const navigate = useNavigate();
  const { data, error, refetch } = useQuery(TransferRuns, { variables: { cropId } });
  const fitted = useMemo(() => new Set(version.points.filter(({ used }) => used).map(({ leaf }) => leaf.id)), [version.points]);
  const runs = useMemo(() => (data?.calibrationCandidates ?? []).map((run) => {
    const leaves = new Map(run.rwcSeries.map(({ disc }) => disc.leaf).filter(({ plant }) => plant.crop.id === cropId).map((leaf) => [leaf.id, leaf.label]));
    return { ...run, seen: [...leaves].filter(([id]) => fitted.has(id)), fresh: [...leaves].filter(([id]) => !fitted.has(id)) };
  }), [data, fitted, cropId]);
  const leavesOf = (runIds: readonly string[]): string[] => [...new Set(runs.filter(({ id }) => runIds.includes(id)).flatMap(({ fresh }) => fresh.map(([id]) => id)))];
  const entry = useEntry({
    initial: first, keep: true,
    send: ({ dryingRunIds, marginPoints, rwcFrom, rwcTo, leafEffects }, id) => send(StudyTransfer, {
      input: { id, calibrationVersionId: version.id, cropId, dryingRunIds: [...dryingRunIds], leafIds: leavesOf(dryingRunIds), exclusions: [], marginPoints: Number(decimalText(marginPoints)), rwcFrom: percentOrNull(rwcFrom), rwcTo: percentOrNull(rwcTo), leafEffects: leafEffects as LeafEffects, alpha: 0.05, level: 0.95 },
    }),
    onRecorded: ({ transferStudy }) => void (transferStudy && navigate(`/calibrations/transfer/${transferStudy.id}`)),
  });
  if (!data) return <Strip>{error ? <Failed what="the runs" again={() => void refetch()} /> : <Waiting what="the released runs" />}</Strip>;
  const usable = runs.filter(({ fresh }) => fresh.length > 0);
  if (usable.length === 0) {
    return <Section title="Runs and margin"><Empty title={runs.length > 0 ? 'Every leaf of this crop that was read is in this calibration already.' : 'No released run of this crop has readings.'}><p>Dry leaves that it has not seen, with readings between the weighings, and have the run released: three at least, better eight, of several plants.</p></Empty></Section>;
  }
  const { dryingRunIds } = entry.values;
  const count = leavesOf(dryingRunIds).length;
  const aside = runs.filter(({ id }) => dryingRunIds.includes(id)).flatMap(({ seen }) => seen.map(([, label]) => label));
  return (
    <Section title="Runs and margin" lead="State the margin before you see the answer: how many RWC points a reading may be off for the calibration still to serve you. Every study is kept with its margin.">
      <EntryForm entry={entry} action="Study and keep" label="Study a transfer" disabled={dryingRunIds.length === 0}
        beside={dryingRunIds.length > 0 ? <span>{count} {count === 1 ? 'leaf' : 'leaves'} that it has not seen{count < 3 ? ': at least three are needed to tell anything' : ''}.</span> : null}>
        <TicksField {...entry.field('dryingRunIds')} label="Released runs, on one rig" empty={null}
          choices={usable.map(({ id, label, rig, openedAt, fresh, rwcSeries }) => ({ value: id, label: `Run ${label}`, beside: `${openedAt.slice(0, 10)}, ${fresh.length} new ${fresh.length === 1 ? 'leaf' : 'leaves'}, ${rig.label} version ${rig.version}${rwcSeries.some(({ stale }) => stale) ? ', RWC stale' : ''}` }))} />
        <NumberField {...entry.field('marginPoints')} label="Margin, RWC points" hint="5 means: 80 % may be read as 75 % to 85 %" />
        <NumberField {...entry.field('rwcFrom')} label="Must hold from RWC, %" hint="Empty: where both were read" optional />
        <NumberField {...entry.field('rwcTo')} label="… to RWC, %" optional />
        <SegmentField {...entry.field('leafEffects')} label="Own leaves differ in" wide choices={effectChoices} />
      </EntryForm>
      {aside.length > 0 ? <Notice tone="calm" title={`Left aside: ${aside.join(', ')}.`}>The calibration was fitted to {aside.length === 1 ? 'this leaf' : 'these leaves'}, so that they agree with it by construction.</Notice> : null}
    </Section>
  );
}

const plain = { structureSd: '0.08' };

function ThicknessPart({ version, cropId, cropName }: PartProps & { readonly cropName: string }) {
  const send = usePayload();
  const navigate = useNavigate();
  const entry = useEntry({
    initial: plain, keep: true,
    send: ({ structureSd }, id) => send(StudyWaterThickness, { input: { id, calibrationVersionId: version.id, cropId, structureSd: Number(decimalText(structureSd)), level: 0.95 } }),
    onRecorded: ({ transferStudy }) => void (transferStudy && navigate(`/calibrations/transfer/${transferStudy.id}`)),
  });
  return (
    <Section title="Masses and area" lead={`Light knows water by its thickness. From turgid mass, dry mass and area of every disc of ${cropName} that has them, the curve to expect of it is read from this calibration. It plans and warns; it is no calibration.`}>
      <EntryForm entry={entry} action="Expect and keep" label="Expect a curve from water thickness">
        <NumberField {...entry.field('structureSd')} label="Crops of one water thickness differ by, SD of ln T" hint="Leaf structure and dry matter; 0.08 is what ten per cent of structure move it by in a leaf model" />
      </EntryForm>
    </Section>
  );
}
