import type { SimulatedPerson } from './events.js';

/** Invented names; none is meant to be anybody. */
export const SIMULATED_PEOPLE: readonly SimulatedPerson[] = [
  { key: 'technician-1', role: 'technician', displayName: 'Moss Teaselwick' },
  { key: 'technician-2', role: 'technician', displayName: 'Pim Oatleaf' },
  { key: 'researcher-1', role: 'researcher', displayName: 'Juniper Vanehill' },
  { key: 'researcher-2', role: 'researcher', displayName: 'Bryony Quillfern' },
  { key: 'manager-1', role: 'manager', displayName: 'Alder Pennymarsh' },
  { key: 'field-engineer-1', role: 'field-engineer', displayName: 'Hazel Gatebrook' },
  { key: 'auditor-1', role: 'auditor', displayName: 'Sorrel Ledgerby' },
  { key: 'administrator-1', role: 'administrator', displayName: 'Rowan Keystile' },
];

/** The same roles in the lab next door. Invented too. */
export const NEIGHBOUR_PEOPLE: readonly SimulatedPerson[] = [
  { key: 'technician-1', role: 'technician', displayName: 'Clover Dapplewood' },
  { key: 'technician-2', role: 'technician', displayName: 'Linden Sackbrook' },
  { key: 'researcher-1', role: 'researcher', displayName: 'Yarrow Thistledown' },
  { key: 'researcher-2', role: 'researcher', displayName: 'Tansy Burrowell' },
  { key: 'manager-1', role: 'manager', displayName: 'Hawthorn Millrace' },
  { key: 'field-engineer-1', role: 'field-engineer', displayName: 'Sedge Longacre' },
  { key: 'auditor-1', role: 'auditor', displayName: 'Medlar Quarrier' },
  { key: 'administrator-1', role: 'administrator', displayName: 'Osier Lanternby' },
];
