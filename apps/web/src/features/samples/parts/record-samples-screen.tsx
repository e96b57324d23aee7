import { useQuery } from '@apollo/client/react';
import { useDeferredValue, useState } from 'react';
import { Link } from 'react-router';
import type { DiscLeafSide, PreviewSamplesQuery, RecordSamplesInput, RecordSamplesMutation } from '../../../generated/graphql.js';
import { decimalText, EntryForm, orNull, useEntry } from '../../../ui/entry.js';
import { ChoiceField, MomentField, NumberField, SegmentField, TextField } from '../../../ui/fields.js';
import { Back, Page, Section } from '../../../ui/page.js';
import { useInAddress } from '../../../ui/search.js';
import { usePayload } from '../../../ui/send.js';
import { momentFromInput } from '../../../ui/time.js';
import { Action, Caution, Notice } from '../../../ui/words.js';
import { CropList, PreviewSamples, RecordSamples } from '../documents.js';
import { sideChoices } from './description.js';
import styles from './samples.module.css';

type Recorded = RecordSamplesMutation['recordSamples'];
type Preview = PreviewSamplesQuery['previewSamples'];

const empty = {
  cropId: '', plantPattern: 'P-##', firstPlant: '1', newPlants: '1', leafPattern: '-L#', firstLeaf: '1', leavesPerPlant: '1', discPattern: '-D#', firstDisc: '1', discsPerLeaf: '0',
  cultivar: '', treatment: '', position: '', growthStage: '', cutAt: '', diameterMm: '12', leafSide: '',
};
type Values = typeof empty;

/** What the samples are added to: nothing yet, plants that stand, or leaves. */
interface Onto {
  readonly plantIds: readonly string[];
  readonly leafIds: readonly string[];
}

const whole = (text: string): number => (/^\d+$/.test(text.trim()) ? Number(text) : -1);

function inputOf(values: Values, id: string, { plantIds, leafIds }: Onto, at: string | null): RecordSamplesInput {
  const discs = whole(values.discsPerLeaf) > 0;
  const below = leafIds.length > 0 ? { leafIds: [...leafIds] } : {
    ...(plantIds.length > 0 ? { plantIds: [...plantIds] } : {
      cropId: values.cropId || null, plantPattern: values.plantPattern, firstPlant: whole(values.firstPlant), newPlants: whole(values.newPlants), cultivar: orNull(values.cultivar), treatment: orNull(values.treatment),
    }),
    leafPattern: values.leafPattern, firstLeaf: whole(values.firstLeaf), leavesPerPlant: whole(values.leavesPerPlant),
    position: orNull(values.position), growthStage: orNull(values.growthStage), cutAt: values.cutAt === '' ? null : momentFromInput(values.cutAt),
  };
  return {
    id, ...below, discPattern: values.discPattern, firstDisc: whole(values.firstDisc), discsPerLeaf: whole(values.discsPerLeaf),
    ...(discs ? { diameterMm: orNull(decimalText(values.diameterMm)), leafSide: (values.leafSide || null) as DiscLeafSide | null, punchedAt: at } : {}),
  };
}

/** Many plants, leaves and discs in one go: the labels are shown before anything is written. */
export function RecordSamplesScreen() {
  const send = usePayload();
  const [plantText] = useInAddress('plants');
  const [leafText] = useInAddress('leaves');
  const onto: Onto = { plantIds: plantText === '' ? [] : plantText.split(','), leafIds: leafText === '' ? [] : leafText.split(',') };
  const [recorded, setRecorded] = useState<Recorded | null>(null);
  const crops = useQuery(CropList);
  const entry = useEntry({
    initial: empty,
    keep: true,
    send: (values, id, at) => send(RecordSamples, { input: inputOf(values, id, onto, at) }),
    onRecorded: setRecorded,
  });
  const values = useDeferredValue(entry.values);
  const preview = useQuery(PreviewSamples, { variables: { input: inputOf(values, entry.id, onto, null) }, skip: recorded !== null });
  const shown = (preview.data ?? preview.previousData)?.previewSamples;
  const newPlants = onto.plantIds.length === 0 && onto.leafIds.length === 0;
  const withDiscs = whole(entry.values.discsPerLeaf) > 0;
  if (recorded) return <Done recorded={recorded} again={() => setRecorded(null)} />;
  return (
    <Page title="Record samples" margin={<Back to="/samples">Samples</Back>} lead="Plants, their leaves and their discs in one go. A run of # in a pattern is the number, ## with two digits; @ counts in letters.">
      <Section title={newPlants ? 'New plants' : onto.leafIds.length > 0 ? `Discs of ${onto.leafIds.length === 1 ? 'one leaf' : `${onto.leafIds.length} leaves`}` : `Leaves of ${onto.plantIds.length === 1 ? 'one plant' : `${onto.plantIds.length} plants`}`}>
        <Caution title="Blade, punch, sap and sprays.">Cut away from the hand on a firm board; look at the plant’s re-entry interval after spraying before you touch it.</Caution>
        <EntryForm entry={entry} action={shown && !shown.problem ? `Record ${countText(shown)}` : 'Record'} disabled={!shown || Boolean(shown.problem) || shown.taken.length > 0 || (newPlants && entry.values.cropId === '')}>
          {newPlants ? (
            <>
              <ChoiceField {...entry.field('cropId')} label="Crop" none="Choose a crop" choices={(crops.data?.crops ?? []).map((crop) => ({ value: crop.id, label: crop.name }))} />
              <NumberField {...entry.field('newPlants')} label="Plants" inputMode="numeric" />
              <TextField {...entry.field('plantPattern')} label="Label of a plant" hint="P-## gives P-01, P-02 …" />
              <NumberField {...entry.field('firstPlant')} label="First number" inputMode="numeric" />
              <TextField {...entry.field('cultivar')} label="Cultivar" optional />
              <TextField {...entry.field('treatment')} label="Treatment" optional />
            </>
          ) : null}
          {onto.leafIds.length === 0 ? (
            <>
              <NumberField {...entry.field('leavesPerPlant')} label="Leaves of each plant" inputMode="numeric" />
              <TextField {...entry.field('leafPattern')} label="Label of a leaf" hint="Stands after the plant’s: P-01-L1" />
              <NumberField {...entry.field('firstLeaf')} label="First leaf" inputMode="numeric" />
              <TextField {...entry.field('position')} label="Position on the plant" optional />
              <TextField {...entry.field('growthStage')} label="Growth stage" hint="By the key your lab uses, for example BBCH 71" optional />
              <MomentField {...entry.field('cutAt')} label="Cut at" optional />
            </>
          ) : null}
          <NumberField {...entry.field('discsPerLeaf')} label="Discs of each leaf" inputMode="numeric" />
          {withDiscs ? (
            <>
              <TextField {...entry.field('discPattern')} label="Label of a disc" hint="Stands after the leaf’s: P-01-L1-D1" />
              <NumberField {...entry.field('firstDisc')} label="First disc" inputMode="numeric" />
              <NumberField {...entry.field('diameterMm')} label="Diameter of the punch, mm" hint="Empty for a whole leaf" optional />
              <SegmentField {...entry.field('leafSide')} label="Side up" choices={[...sideChoices, { value: '', label: 'not told' }]} wide />
            </>
          ) : null}
        </EntryForm>
      </Section>
      <Section title="What will be recorded" margin={shown && !shown.problem ? countText(shown) : null}>
        {shown?.problem ? <Notice tone="ask" title={shown.problem.message}>{shown.problem.remedy}</Notice> : null}
        {shown && shown.taken.length > 0 ? <Notice tone="alarm" title={`These labels stand already: ${shown.taken.join(', ')}`}>Start at another number, or change the pattern.</Notice> : null}
        {shown ? <Labels title="Plants" labels={shown.plants} count={shown.plantCount} /> : null}
        {shown ? <Labels title="Leaves" labels={shown.leaves} count={shown.leafCount} /> : null}
        {shown ? <Labels title="Discs" labels={shown.discs} count={shown.discCount} /> : null}
      </Section>
    </Page>
  );
}

const some = (count: number, one: string, many: string): string[] => (count === 0 ? [] : [count === 1 ? `1 ${one}` : `${count} ${many}`]);
const countText = ({ plantCount, leafCount, discCount }: Preview): string =>
  [...some(plantCount, 'plant', 'plants'), ...some(leafCount, 'leaf', 'leaves'), ...some(discCount, 'disc', 'discs')].join(', ');

function Labels({ title, labels, count }: { readonly title: string; readonly labels: readonly string[]; readonly count: number }) {
  if (count === 0) return null;
  return (
    <div>
      <h3>{title}</h3>
      <ul className={styles.labels}>{labels.map((label) => <li key={label}>{label}</li>)}{count > labels.length ? <li>and {count - labels.length} more</li> : null}</ul>
    </div>
  );
}

function Done({ recorded, again }: { readonly recorded: Recorded; readonly again: () => void }) {
  const made = [
    { kind: 'PLANT', title: 'plants', rows: recorded.plants ?? [] }, { kind: 'LEAF', title: 'leaves', rows: recorded.leaves ?? [] }, { kind: 'DISC', title: 'discs', rows: recorded.discs ?? [] },
  ].filter(({ rows }) => rows.length > 0);
  return (
    <Page title="Recorded" margin={<Back to="/samples">Samples</Back>}>
      {made.map(({ kind, title, rows }) => (
        <Section key={kind} title={`${rows.length} ${title}`} actions={rows.length <= 200 ? <Link to={`/samples/labels?kind=${kind}&ids=${rows.map(({ id }) => id).join(',')}`}>Print their labels</Link> : null}>
          <ul className={styles.labels}>{rows.slice(0, 60).map(({ id, label }) => <li key={id}>{label}</li>)}{rows.length > 60 ? <li>and {rows.length - 60} more</li> : null}</ul>
        </Section>
      ))}
      <Section title="Go on"><p><Action onClick={again}>Record more samples</Action></p><p><Link to="/samples">Look at all discs</Link></p></Section>
    </Page>
  );
}
