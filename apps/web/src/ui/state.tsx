import type { ReactNode } from 'react';
import styles from './state.module.css';

/** well: as it should be; ask: wants a look; alarm: do not use; plain: neither. Colour only repeats what word and shape say. */
type Tone = 'well' | 'ask' | 'alarm' | 'plain';

interface Told {
  readonly word: string;
  readonly tone: Tone;
  readonly shape: ReactNode;
}

const ring = <circle cx="9" cy="9" r="6.5" />;
const box = <rect x="2.5" y="2.5" width="13" height="13" />;

const dryingRun = {
  OPEN: { word: 'open', tone: 'plain', shape: <path d="M13.6 4.4A6.5 6.5 0 1 0 15.5 9" /> },
  CLOSED: { word: 'closed', tone: 'plain', shape: <>{ring}<path d="M5 9h8" /></> },
  RELEASED: { word: 'released', tone: 'well', shape: <path d="M2.5 9.5v6h13v-6M9 12V2M5.5 5.5 9 2l3.5 3.5" /> },
} as const satisfies Readonly<Record<string, Told>>;

const check = {
  IN_CHECK: { word: 'in check', tone: 'well', shape: <>{ring}<path d="m5.8 9.2 2.3 2.3 4.2-4.8" /></> },
  OVERDUE: { word: 'overdue', tone: 'alarm', shape: <>{ring}<path d="M9 4.5V9l3.4 2.4" /><path d="M9 .2v2.6M9 15.2v2.6" /></> },
  FAILED: { word: 'failed its check', tone: 'alarm', shape: <path d="M9 1.5 16.5 9 9 16.5 1.5 9ZM6.5 6.5l5 5m0-5-5 5" /> },
  UNCHECKED: { word: 'never checked', tone: 'ask', shape: <path d="M9 1.5 16.5 9 9 16.5 1.5 9Z" strokeDasharray="3 2.2" /> },
} as const satisfies Readonly<Record<string, Told>>;

const approval = {
  DRAFT: { word: 'draft', tone: 'plain', shape: <circle cx="9" cy="9" r="6.5" strokeDasharray="3 2.1" /> },
  REVIEWED: { word: 'reviewed', tone: 'plain', shape: <>{ring}<path d="M9 2.5a6.5 6.5 0 0 0 0 13Z" fill="currentColor" /></> },
  APPROVED: { word: 'approved', tone: 'well', shape: <><circle cx="9" cy="9" r="6.5" fill="currentColor" /><path d="m5.8 9.2 2.3 2.3 4.2-4.8" className={styles.cut} /></> },
  SUPERSEDED: { word: 'superseded', tone: 'ask', shape: <><circle cx="6.8" cy="11.2" r="5" strokeDasharray="2.6 2" /><circle cx="11.2" cy="6.8" r="5" /></> },
  WITHDRAWN: { word: 'withdrawn', tone: 'alarm', shape: <>{ring}<path d="m4.5 13.5 9-9" /></> },
} as const satisfies Readonly<Record<string, Told>>;

const deviceUnit = {
  RECEIVED: { word: 'received', tone: 'plain', shape: box },
  CHARACTERISED: { word: 'characterised', tone: 'plain', shape: <>{box}<path d="M4.5 5.5C7 5.8 11 7.5 13 13" /></> },
  CERTIFIED: { word: 'certified', tone: 'well', shape: <>{box}<circle cx="9" cy="9" r="2.6" fill="currentColor" /></> },
  INSTALLED: { word: 'installed', tone: 'well', shape: <><rect x="5" y="9.5" width="8" height="6" /><path d="M1.5 6.5c4-4.5 11-4.5 15 0" /></> },
  RETIRED: { word: 'retired', tone: 'ask', shape: <>{box}<path d="m2.5 15.5 13-13" /></> },
} as const satisfies Readonly<Record<string, Told>>;

/** Drawn as the switch itself: lever up while armed, closed once it latched. */
const installation = {
  ARMED: { word: 'armed', tone: 'well', shape: <><path d="M.5 12.5h4m9 0h4M4.5 12.5 12.6 5" /><circle cx="4.5" cy="12.5" r="1.4" fill="currentColor" /><circle cx="13.5" cy="12.5" r="1.4" fill="currentColor" /></> },
  TRIPPED: { word: 'tripped', tone: 'ask', shape: <><path d="M.5 12.5h17M9 1.5v7m-3-3 3 3 3-3" /><circle cx="4.5" cy="12.5" r="1.4" fill="currentColor" /><circle cx="13.5" cy="12.5" r="1.4" fill="currentColor" /></> },
  REMOVED: { word: 'removed', tone: 'plain', shape: <path d="M.5 12.5h4m9 0h4" /> },
} as const satisfies Readonly<Record<string, Told>>;

/** A spirit level: the bubble between its marks, beside them, out of the glass, or no bubble yet. */
const transfer = {
  HOLDS: { word: 'holds', tone: 'well', shape: <><path d="M1.5 5.5h15v7h-15ZM6.500 5.500v7M11.500 5.500v7" /><circle cx="9" cy="9" r="1.600" fill="currentColor" /></> },
  HOLDS_WITH_OFFSET: { word: 'holds with an offset', tone: 'ask', shape: <><path d="M1.5 5.5h15v7h-15ZM6.500 5.500v7M11.500 5.500v7" /><circle cx="14" cy="9" r="1.600" fill="currentColor" /></> },
  DOES_NOT_HOLD: { word: 'does not hold', tone: 'alarm', shape: <path d="M1.5 5.5h15v7h-15ZM4 15.500 14 2.500" /> },
  NOT_ENOUGH_DATA: { word: 'not enough data', tone: 'plain', shape: <path d="M1.5 5.5h15v7h-15Z" strokeDasharray="3 2.2" /> },
} as const satisfies Readonly<Record<string, Told>>;

// The states are those of the contract: a state that it gains makes the use of a mark fail to compile until it has a shape here.
export type DryingRunState = keyof typeof dryingRun;
export type CheckStatus = keyof typeof check;
export type ApprovalState = keyof typeof approval;
export type DeviceUnitState = keyof typeof deviceUnit;
export type TransferVerdictSeen = keyof typeof transfer;
export type InstallationState = keyof typeof installation;

function Mark({ told, children }: { readonly told: Told; readonly children?: ReactNode }) {
  return (
    <span className={styles.state} data-tone={told.tone}>
      <svg viewBox="0 0 18 18" width="18" height="18" fill="none" stroke="currentColor" strokeWidth="1.8" strokeLinecap="square" aria-hidden="true">{told.shape}</svg>
      <span>{children ?? told.word}</span>
    </span>
  );
}

export const DryingRunMark = ({ state }: { readonly state: DryingRunState }) => <Mark told={dryingRun[state]} />;
export const ApprovalMark = ({ state }: { readonly state: ApprovalState }) => <Mark told={approval[state]} />;
export const DeviceUnitMark = ({ state }: { readonly state: DeviceUnitState }) => <Mark told={deviceUnit[state]} />;
export const InstallationMark = ({ state }: { readonly state: InstallationState }) => <Mark told={installation[state]} />;

export const TransferMark = ({ verdict }: { readonly verdict: TransferVerdictSeen }) => <Mark told={transfer[verdict]} />;

/** `then` says that the status is that of the moment the instrument was used. */
export function CheckMark({ status, then = false, children }: { readonly status: CheckStatus; readonly then?: boolean; readonly children?: ReactNode }) {
  return <Mark told={check[status]}>{children ?? check[status].word}{then ? ' then' : ''}</Mark>;
}

/** A result whose facts were amended after it was computed. */
export function StaleMark() {
  return <Mark told={{ word: 'stale: a fact it rests on was amended', tone: 'ask', shape: <path d="M2 6c2.5-3 4.5 3 7 0s4.5 3 7 0M2 12c2.5-3 4.5 3 7 0s4.5 3 7 0" /> }} />;
}

/** A fact or result that another took the place of. */
export function AmendedMark() {
  return <Mark told={{ word: 'amended', tone: 'ask', shape: <path d="M2 13h7M2 5h14M2 9h14m-4 0v7m-3.5-3.5h7" /> }} />;
}

/** Yes with a tick, no with what is missing: for what is either done or awaited. */
export function DoneMark({ done, word }: { readonly done: boolean; readonly word: string }) {
  return <Mark told={done ? { ...check.IN_CHECK, word } : { ...dryingRun.OPEN, word }} />;
}
