import { useEffect, useRef, useState } from 'react';
import type { KeyboardEvent, ReactNode } from 'react';
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
  // A scanner types the label and presses Enter: the disc is ticked as soon as the server has found it, and the form is not sent.
  const [scanned, setScanned] = useState<string | null>(null);
  const [told, setTold] = useState('');
  const latest = useRef({ binding, onSearch });
  useEffect(() => {
    latest.current = { binding, onSearch };
  });
  useEffect(() => {
    if (scanned === null) return;
    const disc = offered.find((each) => each.label.toLowerCase() === scanned.toLowerCase());
    if (!disc) return;
    const { binding: { value, onChange }, onSearch: empty } = latest.current;
    if (!value.includes(disc.id)) onChange([...value, disc.id]);
    setTold(`${disc.label} is chosen.`);
    setScanned(null);
    empty('');
  }, [offered, scanned]);
  const pressed = (event: KeyboardEvent<HTMLDivElement>) => {
    if (event.key !== 'Enter' || !(event.target instanceof HTMLInputElement) || event.target.type === 'checkbox') return;
    event.preventDefault();
    if (search.trim() === '') return;
    setTold(`Looking for ${search.trim()}…`);
    setScanned(search.trim());
  };
  const ids = [...new Set([...binding.value, ...offered.map(({ id }) => id)])];
  const choices = ids.flatMap((id) => {
    const disc = known.get(id);
    return disc ? [{ value: id, label: disc.label, beside: disc.leaf.plant.crop.name }] : [];
  });
  return (
    <>
      <div style={{ gridColumn: '1 / -1' }} onKeyDown={pressed}>
        <TextField name="discSearch" label="Find discs" hint="Scan the label, or type a part of it" value={search} onChange={(text) => { setTold(''); setScanned(null); onSearch(text); }} problem={null} unmarked wide />
        <p role="status">{told}</p>
      </div>
      <TicksField {...binding} label={`${label} (${binding.value.length} chosen)`} choices={choices} empty={empty}
        hint={totalCount > offered.length ? `${offered.length} of ${totalCount} are shown: type more of the label to find the others.` : undefined} />
    </>
  );
}
