/**
 * How a record of a kind is told in Thread, ledger and evidence pack: SQL expressions over the row `r` of its table
 * (lab $1). Constants of the house only: nothing a person sent ever stands in one.
 */
export interface Describer {
  /** What a person calls it. */
  readonly label: string;
  /** Its main facts as a sentence fragment. How it was entered is added from `entryMode`. */
  readonly summary: string;
  /** Joins the expressions need. */
  readonly joins?: string;
  readonly rawLine?: string;
  readonly observedAt?: string;
  readonly offsetMin?: string;
  /** Id of the instrument used, whose check status then is shown. */
  readonly instrumentId?: string;
  /** LINE (read from an instrument), TYPED, IMPORTED or SIMULATED; only TYPED and what follows is told. */
  readonly entryMode?: string;
  /** Columns of the row in which a person says why something was done all the same: told as remarks, found as exceptions. */
  readonly answers?: readonly Answer[];
  /** JSON array of flags to be read with it, beside the answers. */
  readonly remarks?: string;
}

export type Describers = Readonly<Record<string, Describer>>;

export interface Answer {
  /** A nullable text column of the kind's own table. */
  readonly column: string;
  readonly code: string;
  /** Stands before the text: `Overridden` gives "Overridden: …". */
  readonly word: string;
}

export const flagAnswer: Answer = { column: 'flag_answer', code: 'ANSWER', word: 'Answer' };
export const overrideReason: Answer = { column: 'override_reason', code: 'OVERRIDDEN', word: 'Overridden' };

/** The disc of a row with `disc_id`. */
export const ofDisc = 'LEFT JOIN disc ON disc.lab_id = $1 AND disc.id = r.disc_id';
/** The unit of a row with `device_unit_id`. */
export const ofUnit = 'JOIN device_unit ON device_unit.lab_id = $1 AND device_unit.id = r.device_unit_id';

export const signed = (kind: string): string => `coalesce((
  SELECT ', ' || string_agg(lower(s.meaning) || ' by ' || p.display_name || ' on ' || to_char(s.recorded_at AT TIME ZONE 'UTC', 'YYYY-MM-DD'), ', ' ORDER BY s.recorded_at)
  FROM signature s JOIN account p ON p.id = s.recorded_by WHERE s.lab_id = $1 AND s.subject_kind = '${kind}' AND s.subject_id = r.id), ', not signed')`;

/** One remark where the condition holds, else none. `message` is an SQL expression. */
export const remark = (code: string, condition: string, message: string): string =>
  `CASE WHEN ${condition} THEN jsonb_build_array(jsonb_build_object('code', '${code}', 'severity', 'WARN', 'message', ${message})) ELSE '[]'::jsonb END`;

export const percent = (expression: string): string => `to_char((${expression})::numeric * 100, 'FM990.0') || ' %'`;

/** The summary with how the record was entered. */
export const summaryOf = ({ summary, entryMode }: Describer): string =>
  entryMode ? `${summary} || CASE ${entryMode} WHEN 'TYPED' THEN ', typed by hand' WHEN 'IMPORTED' THEN ', imported' WHEN 'SIMULATED' THEN ', simulated' ELSE '' END` : summary;

/** Remarks and answers, as one JSON array. */
export const remarksOf = ({ remarks, answers = [] }: Describer): string =>
  [...(remarks ? [`(${remarks})`] : []), ...answers.map(({ column, code, word }) => remark(code, `r.${column} IS NOT NULL`, `'${word}: ' || r.${column}`))].join(' || ') || "'[]'::jsonb";
