/** What a file would become, as the contract tells it. */
export interface Preview {
  readonly delimiter: string | null;
  readonly columns: readonly string[];
  readonly rowCount: number;
  readonly discCount: number;
  readonly rows: readonly { readonly line: number; readonly disc: string; readonly at: string; readonly massMg: string; readonly rwc: number | null }[];
  readonly errors: readonly { readonly line: number; readonly column: string | null; readonly message: string; readonly remedy: string }[];
  readonly flags: readonly { readonly line: number; readonly flag: { readonly severity: string; readonly message: string } }[];
  readonly alreadyImported: boolean;
}

export const PREVIEW_FIELDS = `
  delimiter columns rowCount discCount rows { line disc at massMg rwc } errors { line column message remedy }
  flags { line flag { severity message } } alreadyImported`;

const SHOWN = 8;

/** A preview as lines for the terminal. RWC is shown in per cent, as on every screen. */
export function tellPreview({ delimiter, columns, rowCount, discCount, rows, flags }: Preview): string[] {
  const lines = [
    `${rowCount} rows of ${discCount} ${discCount === 1 ? 'disc' : 'discs'}, columns divided by ${delimiter === '\t' ? 'tab' : `"${delimiter}"`}: ${columns.join(' | ')}`,
  ];
  if (rows.length > 0) {
    const table = rows.slice(0, SHOWN).map(({ line, disc, at, massMg, rwc }) => [String(line), disc, at, massMg, rwc === null ? '' : (rwc * 100).toFixed(2)]);
    lines.push('', ...aligned([['line', 'disc', 'moment', 'mass, mg', 'RWC, %'], ...table]));
    if (rowCount > SHOWN) lines.push(`... and ${rowCount - SHOWN} more`);
  }
  if (flags.length > 0) lines.push('', 'To look at; it does not stop the import:', ...flags.map(({ line, flag }) => `  line ${line}: ${flag.message}`));
  return lines;
}

export function tellRowErrors(errors: Preview['errors']): string[] {
  return errors.map(({ line, column, message, remedy }) => `  line ${line}${column === null ? '' : `, ${column}`}: ${message} ${remedy}`);
}

function aligned(rows: readonly (readonly string[])[]): string[] {
  const widths = rows[0]!.map((_, i) => Math.max(...rows.map((row) => row[i]!.length)));
  return rows.map((row) => `  ${row.map((cell, i) => cell.padEnd(widths[i]!)).join('  ')}`.trimEnd());
}
