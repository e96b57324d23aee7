import { useEffect, useRef, useState } from 'react';
import { useLocation, useSearchParams } from 'react-router';
import type { ReactNode } from 'react';
import { ChoiceField, TextField } from './fields.js';
import type { Choice } from './fields.js';
import { Action } from './words.js';
import styles from './search.module.css';

/** One piece of a screen's state, kept in its address so that Back, reload and a shared link bring it again. */
export function useInAddress(name: string): readonly [string, (value: string) => void] {
  const [params, setParams] = useSearchParams();
  const set = (value: string) =>
    setParams((before) => {
      const next = new URLSearchParams(before);
      if (value === '') next.delete(name);
      else next.set(name, value);
      return next;
    }, { replace: true });
  return [params.get(name) ?? '', set];
}

/** A search field whose text lives in the address; asks the server once the hand rests. */
export function SearchField({ label, hint }: { readonly label: string; readonly hint?: string }) {
  const [search, setSearch] = useInAddress('search');
  const [text, setText] = useState(search);
  const { pathname } = useLocation();
  const latest = useRef({ search, setSearch });
  useEffect(() => {
    latest.current = { search, setSearch };
  });
  useEffect(() => {
    const timer = setTimeout(() => {
      // A link followed meanwhile has put its own address there, which must stand.
      const left = window.location.pathname !== pathname;
      if (!left && latest.current.search !== text.trim()) latest.current.setSearch(text.trim());
    }, 250);
    return () => clearTimeout(timer);
  }, [text, pathname]);
  return <TextField name="search" label={label} {...(hint ? { hint } : {})} value={text} onChange={setText} problem={null} inputMode="search" unmarked />;
}

/** A choice that narrows a list, kept in the address. */
export function NarrowField({ name, label, all, choices }: { readonly name: string; readonly label: string; readonly all: string; readonly choices: readonly Choice[] }) {
  const [value, setValue] = useInAddress(name);
  return <ChoiceField name={name} label={label} value={value} onChange={setValue} problem={null} choices={choices} none={all} unmarked />;
}

export const SearchBar = ({ children }: { readonly children: ReactNode }) => <div className={styles.bar} role="search">{children}</div>;

interface MoreProps {
  /** "12 of 340 discs". */
  readonly shown: string;
  readonly hasMore: boolean;
  readonly more: () => void;
  readonly waiting: boolean;
}

/** The end of a list: how much of it is shown, and more. */
export function More({ shown, hasMore, more, waiting }: MoreProps) {
  return (
    <div className={styles.more}>
      <span role="status">{shown}</span>
      {hasMore ? <Action kind="plain" onClick={more} waiting={waiting}>Show more</Action> : null}
    </div>
  );
}
