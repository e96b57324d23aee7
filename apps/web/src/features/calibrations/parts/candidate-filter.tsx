import type { CalibrationCandidatesQuery, CandidateFilterInput } from '../../../generated/graphql.js';
import { TextField } from '../../../ui/fields.js';
import { NarrowField, SearchBar, useInAddress } from '../../../ui/search.js';

type Choices = CalibrationCandidatesQuery['candidateChoices'];

interface Narrowed {
  readonly cultivar: string;
  readonly stage: string;
  readonly rigId: string;
  readonly band: string;
  readonly from: string;
  readonly before: string;
}

const DAY = /^\d{4}-\d{2}-\d{2}$/;
const dayStart = (text: string): string | null => (DAY.test(text) && !Number.isNaN(Date.parse(text)) ? `${text}T00:00:00Z` : null);

/** What is in the address, as the contract wants it. Days are of UTC; a day half typed narrows nothing. */
export const filterOf = ({ cultivar, stage, rigId, band, from, before }: Narrowed): CandidateFilterInput => ({
  cultivar: cultivar || null, growthStage: stage || null, rigId: rigId || null, bandNm: band ? Number(band) : null, openedFrom: dayStart(from), openedBefore: dayStart(before),
});

const choicesOf = (values: readonly string[]): { value: string; label: string }[] => values.map((value) => ({ value, label: value }));

/** Narrows the released runs, by the server. */
export function CandidateFilterBar({ choices: { cultivars, growthStages, rigs } }: { readonly choices: Choices }) {
  const [from, setFrom] = useInAddress('from');
  const [before, setBefore] = useInAddress('before');
  const bands = [...new Set(rigs.map(({ bandCentreNm }) => String(bandCentreNm)))].sort();
  return (
    <SearchBar>
      {cultivars.length > 0 ? <NarrowField name="cultivar" label="Cultivar" all="All cultivars" choices={choicesOf(cultivars)} /> : null}
      {growthStages.length > 0 ? <NarrowField name="stage" label="Growth stage" all="All stages" choices={choicesOf(growthStages)} /> : null}
      <NarrowField name="rig" label="Rig" all="All rigs" choices={rigs.map(({ id, label, version }) => ({ value: id, label: `${label}, version ${version}` }))} />
      <NarrowField name="band" label="Band, nm" all="All bands" choices={choicesOf(bands)} />
      <TextField name="from" label="Opened from" hint="A day, like 2026-06-01" value={from} onChange={setFrom} problem={null} unmarked />
      <TextField name="before" label="Opened before" hint="A day, like 2026-07-01" value={before} onChange={setBefore} problem={null} unmarked />
    </SearchBar>
  );
}
