import { lazy } from 'react';
import type { ComponentType, LazyExoticComponent } from 'react';
import type { Role } from '../generated/graphql.js';

/** A screen: one word of the glossary, one folder under features, one path. */
export interface ScreenWord {
  readonly word: string;
  readonly path: string;
  /** What a person comes to do there, for the list of all screens. */
  readonly purpose: string;
  /** Roles whose daily work it is: their phone's ribbon holds it. */
  readonly daily: readonly Role[];
  readonly Screen: LazyExoticComponent<ComponentType>;
}

type PageModule = { readonly Screen: ComponentType };

/** Every features/<word>/page.tsx, each its own chunk, loaded when its screen is opened. Sign-in is part of the first load. */
const pages = import.meta.glob<PageModule>(['../features/*/page.tsx', '!../features/sign-in/page.tsx']);

const inOrder: readonly Omit<ScreenWord, 'Screen'>[] = [
  { word: 'Due', path: 'due', purpose: 'What must happen by when', daily: ['TECHNICIAN', 'RESEARCHER', 'MANAGER', 'FIELD_ENGINEER', 'ADMINISTRATOR'] },
  { word: 'Bench', path: 'bench', purpose: 'Follow discs from turgid to wilted', daily: ['TECHNICIAN', 'RESEARCHER', 'MANAGER'] },
  { word: 'Samples', path: 'samples', purpose: 'Crops, plants, leaves and discs', daily: ['TECHNICIAN', 'RESEARCHER', 'ADMINISTRATOR'] },
  { word: 'Ovens', path: 'ovens', purpose: 'Dry discs to constant mass', daily: ['TECHNICIAN'] },
  { word: 'Instruments', path: 'instruments', purpose: 'Checks of balances, meters, ovens and rigs', daily: ['MANAGER', 'ADMINISTRATOR'] },
  { word: 'Import', path: 'import', purpose: 'Take in a drying series from a file', daily: [] },
  { word: 'Calibrations', path: 'calibrations', purpose: 'Fit transmittance against RWC', daily: ['RESEARCHER', 'MANAGER', 'AUDITOR'] },
  { word: 'Devices', path: 'devices', purpose: 'Units, their curves and certificates', daily: ['FIELD_ENGINEER', 'AUDITOR'] },
  { word: 'Field', path: 'field', purpose: 'Installations, trips and decisions', daily: ['FIELD_ENGINEER', 'AUDITOR'] },
  { word: 'Ledger', path: 'ledger', purpose: 'Every write, in order', daily: ['AUDITOR'] },
  { word: 'Lab', path: 'lab', purpose: 'People and roles', daily: ['ADMINISTRATOR'] },
];

function pageOf(path: string): LazyExoticComponent<ComponentType> | null {
  const load = pages[`../features/${path}/page.tsx`];
  return load ? lazy(async () => ({ default: (await load()).Screen })) : null;
}

/** The screens in the order of the work. */
export const screens: readonly ScreenWord[] = inOrder.flatMap((screen) => {
  const Screen = pageOf(screen.path);
  return Screen ? [{ ...screen, Screen }] : [];
});

/** Reached from a record, never from the ribbon. */
export const ThreadScreen = pageOf('thread');

/** The screens for the phone's ribbon: those of the person's roles, at most four. */
export function dailyScreens(roles: readonly Role[]): readonly ScreenWord[] {
  return screens.filter((screen) => screen.daily.some((role) => roles.includes(role))).slice(0, 4);
}
