import { jcampError } from './ordinates.js';

/** One labelled data record, ##LABEL= value, with the lines below it. */
export interface JcampRecord {
  /** capitals, without blanks, dashes, slashes and underscores, as JCAMP-DX compares labels */
  readonly label: string;
  /** the text after the equals sign on the label's own line, without comment */
  readonly value: string;
  /** the lines that follow up to the next label, without comments and empty lines */
  readonly body: readonly { readonly text: string; readonly line: number }[];
  /** line of the label, counted from 1 */
  readonly line: number;
}

const LABEL = /^##([^=]*)=(.*)$/;

/**
 * Splits a JCAMP-DX text into its labelled data records. `$$` starts a comment that runs to the end of the line; a
 * record named `##=` is a comment altogether. Lines may end in CR LF, LF or CR.
 *
 * @throws InputError JCAMP_NO_RECORD, JCAMP_TEXT_BEFORE_RECORD, JCAMP_BAD_LABEL
 * @example
 * splitRecords('##TITLE= a\n##DATA TYPE= b $$ note\n##END=').map((r) => r.label) // => ['TITLE', 'DATATYPE', 'END']
 */
export function splitRecords(text: string): JcampRecord[] {
  const records: { label: string; value: string; body: { text: string; line: number }[]; line: number }[] = [];
  text.replace(/^\ufeff/, '').split(/\r\n|\n|\r/).forEach((raw, i) => {
    const line = i + 1;
    const content = raw.replace(/\$\$.*$/, '').trimEnd();
    if (content.trimStart().startsWith('##')) {
      const match = LABEL.exec(content.trim());
      // Writers do leave the equals sign off ##END, which has no value to separate.
      const [label, value] = match ? [match[1]!, match[2]!.trim()] : [content.trim().slice(2), null];
      const compared = label.toUpperCase().replace(/[\s\-/_]/g, '');
      if (value === null && compared !== 'END') {
        throw jcampError('BAD_LABEL', line, `"${content.trim().slice(0, 40)}" has no equals sign`, 'A record is written ##LABEL= value.');
      }
      records.push({ label: compared, value: value ?? '', body: [], line });
    } else if (content.trim() !== '') {
      const open = records.at(-1);
      if (open === undefined) {
        throw jcampError('TEXT_BEFORE_RECORD', line, 'the text does not begin with ##TITLE=', 'Check that this is a JCAMP-DX file and that its start was not cut off.');
      }
      open.body.push({ text: content, line });
    }
  });
  if (records.length === 0) throw jcampError('NO_RECORD', 1, 'the text has no record', 'Check that this is a JCAMP-DX file.');
  return records.filter(({ label }) => label !== '');
}
