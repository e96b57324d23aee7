import type { SpectrumOf, SpectrumTableQuery, TransferStudyPageQuery } from '../../../generated/graphql.js';

/** What the screens of transfer studies and spectra are given, and their parts with them. */
export type TransferStudySeen = NonNullable<TransferStudyPageQuery['transferStudy']>;
export type SpectrumSeen = SpectrumTableQuery['spectra'][number];

export const sorts: Readonly<Record<SpectrumOf, string>> = { LEAF: 'leaf', LAMP: 'lamp', SUN: 'sun', FILTER: 'filter', ABSORBER: 'absorber of a device' };
