import type { PlaceKind } from '../../../generated/graphql.js';

/** From the largest to the smallest, as a person says them. */
export const placeKinds: readonly { readonly value: PlaceKind; readonly label: string }[] = [
  { value: 'SITE', label: 'site' }, { value: 'BUILDING', label: 'building' }, { value: 'ROOM', label: 'room' },
  { value: 'STORE', label: 'store: refrigerator, oven, desiccator, cupboard' }, { value: 'RACK', label: 'rack or shelf' }, { value: 'TRAY', label: 'tray or box' }, { value: 'POSITION', label: 'position' },
];

const short: Readonly<Record<PlaceKind, string>> = { SITE: 'site', BUILDING: 'building', ROOM: 'room', STORE: 'store', RACK: 'rack', TRAY: 'tray', POSITION: 'position' };

export const placeKindWord = (kind: PlaceKind): string => short[kind];

/** A place by its way from the top: "North wing, Room 2, Rack 1". */
export const placeName = ({ path }: { readonly path: readonly string[] }): string => path.join(', ');
