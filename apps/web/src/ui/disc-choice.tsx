import { useEffect, useState } from 'react';
import type { ReactNode } from 'react';
import type { FieldBinding } from './entry.js';
import { TextField, TicksField } from './fields.js';

interface DiscOffered {
  readonly id: string;
  readonly label: string;
  readonly leaf: { readonly plant: { readonly crop: { readonly name: string } } };
}

interface DiscChoiceProps {
  readonly label: string;
  readonly binding: FieldBinding<readonly string[]>;
  /** What the server found for the search. */
  readonly offered: readonly DiscOffered[];
  readonly totalCount: number;
  readonly search: string;
  readonly onSearch: (search: string) => void;
  readonly empty: ReactNode;
}

/** Several discs out of all of the lab: searched by the server, ticked here. A disc ticked under one search stays in sight under the next. */
export function DiscChoice({ label, binding, offered, totalCount, search, onSearch, empty }: DiscChoiceProps) {
  const [known, setKnown] = useState<ReadonlyMap<string, DiscOffered>>(new Map());
  useEffect(() => {
    setKnown((before) => new Map([...before, ...offered.map((disc) => [disc.id, disc] as const)]));
  }, [offered]);
  const ids = [...new Set([...binding.value, ...offered.map(({ id }) => id)])];
  const choices = ids.flatMap((id) => {
    const disc = known.get(id);
    return disc ? [{ value: id, label: disc.label, beside: disc.leaf.plant.crop.name }] : [];
  });
  return (
    <>
      <TextField name="discSearch" label="Find discs" hint="Type or scan a part of the label" value={search} onChange={onSearch} problem={null} unmarked wide />
      <TicksField {...binding} label={`${label} (${binding.value.length} chosen)`} choices={choices} empty={empty}
        hint={totalCount > offered.length ? `${offered.length} of ${totalCount} are shown: type more of the label to find the others.` : undefined} />
    </>
  );
}
