/** How labels lie on the stock, in mm. */
export interface Stock {
  readonly pageWidthMm: number;
  readonly pageHeightMm: number;
  readonly columns: number;
  readonly rows: number;
  readonly marginLeftMm: number;
  readonly marginTopMm: number;
  readonly pitchXMm: number;
  readonly pitchYMm: number;
  readonly labelWidthMm: number;
  readonly labelHeightMm: number;
}

/** A roll has one label a page. */
export const roll = (labelWidthMm: number, labelHeightMm: number): Stock => ({
  pageWidthMm: labelWidthMm, pageHeightMm: labelHeightMm, columns: 1, rows: 1, marginLeftMm: 0, marginTopMm: 0, pitchXMm: labelWidthMm, pitchYMm: labelHeightMm, labelWidthMm, labelHeightMm,
});

interface NamedStock {
  readonly value: string;
  readonly label: string;
  /** Null: the person gives the measures. */
  readonly stock: Stock | null;
}

/** Common sizes; measure a sheet of your own before you print on it. Common practice, no source. */
export const stocks: readonly NamedStock[] = [
  { value: 'roll-30-15', label: 'Roll, 30 × 15 mm', stock: roll(30, 15) },
  { value: 'roll-50-25', label: 'Roll, 50 × 25 mm', stock: roll(50, 25) },
  { value: 'roll-25-10', label: 'Roll, 25 × 10 mm (tubes)', stock: roll(25, 10) },
  {
    value: 'a4-65', label: 'A4 sheet, 65 of 38.1 × 21.2 mm',
    stock: { pageWidthMm: 210, pageHeightMm: 297, columns: 5, rows: 13, marginLeftMm: 4.75, marginTopMm: 10.7, pitchXMm: 40.6, pitchYMm: 21.2, labelWidthMm: 38.1, labelHeightMm: 21.2 },
  },
  {
    value: 'a4-24', label: 'A4 sheet, 24 of 63.5 × 33.9 mm',
    stock: { pageWidthMm: 210, pageHeightMm: 297, columns: 3, rows: 8, marginLeftMm: 7.2, marginTopMm: 12.9, pitchXMm: 66, pitchYMm: 33.9, labelWidthMm: 63.5, labelHeightMm: 33.9 },
  },
  { value: 'own', label: 'Own measures', stock: null },
];

/** The measures as fields of a form, in the order in which one measures a sheet. */
export const measures = [
  ['pageWidthMm', 'Page width, mm'], ['pageHeightMm', 'Page height, mm'], ['columns', 'Labels across'], ['rows', 'Labels down'],
  ['labelWidthMm', 'Label width, mm'], ['labelHeightMm', 'Label height, mm'], ['marginLeftMm', 'From the left edge, mm'], ['marginTopMm', 'From the top edge, mm'],
  ['pitchXMm', 'From label to label across, mm'], ['pitchYMm', 'From label to label down, mm'],
] as const satisfies readonly (readonly [keyof Stock, string])[];
