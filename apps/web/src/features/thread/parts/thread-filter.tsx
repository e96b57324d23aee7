import { exceptionWords } from '#libs/telling';
import { useMemo } from 'react';
import { capital, kindsWord } from '../../../ui/kind-words.js';
import { NarrowField, SearchBar, useInAddress } from '../../../ui/search.js';
import type { Node } from './exceptions.js';

/** Which steps are wanted, by what the address says; null where all are. */
export function useThreadFilter(): ((node: Node) => boolean) | null {
  const [kind] = useInAddress('kind');
  const [person] = useInAddress('person');
  const [instrument] = useInAddress('instrument');
  const [exception] = useInAddress('exception');
  return useMemo(() => {
    if (!kind && !person && !instrument && !exception) return null;
    return (node) => (!kind || node.kind === kind) && (!person || node.recordedBy.id === person) && (!instrument || node.instrument === instrument)
      && (!exception || (node.exceptions as readonly string[]).includes(exception));
  }, [kind, person, instrument, exception]);
}

/** Choices with how many steps each has, most first. */
function counted(values: readonly (readonly [value: string, label: string])[]): { value: string; label: string }[] {
  const counts = new Map<string, { label: string; count: number }>();
  for (const [value, label] of values) counts.set(value, { label, count: (counts.get(value)?.count ?? 0) + 1 });
  return [...counts].sort(([, a], [, b]) => b.count - a.count).map(([value, { label, count }]) => ({ value, label: `${label} (${count})` }));
}

/** Narrows a thread to some of its steps, by what occurs in it. */
export function ThreadFilter({ nodes }: { readonly nodes: readonly Node[] }) {
  const choices = useMemo(() => ({
    kinds: counted(nodes.map(({ kind }) => [kind, capital(kindsWord(kind))])),
    people: counted(nodes.map(({ recordedBy }) => [recordedBy.id, recordedBy.displayName])),
    instruments: counted(nodes.flatMap(({ instrument }) => (instrument ? [[instrument, instrument] as const] : []))),
    exceptions: counted(nodes.flatMap(({ exceptions }) => exceptions.map((name) => [name, exceptionWords[name].title] as const))),
  }), [nodes]);
  return (
    <div className="no-print">
      <SearchBar>
        <NarrowField name="kind" label="Kind of record" all="All kinds" choices={choices.kinds} />
        <NarrowField name="person" label="Person" all="Everybody" choices={choices.people} />
        <NarrowField name="instrument" label="Instrument" all="All instruments" choices={choices.instruments} />
        <NarrowField name="exception" label="Exception" all="With and without" choices={choices.exceptions} />
      </SearchBar>
    </div>
  );
}
