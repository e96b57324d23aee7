/** What an auditor stops at, as the ledger names it. */
export type ExceptionName = 'AMENDED' | 'STALE' | 'ANSWERED' | 'INSTRUMENT' | 'SAME_HAND' | 'CLOCK' | 'LATE' | 'TYPED' | 'IMPORTED' | 'SIMULATED';

interface ExceptionWords {
  /** At the record: "typed by hand". */
  readonly mark: string;
  /** As a choice: "Typed by hand". */
  readonly title: string;
  /** One sentence: what it means and why to look. */
  readonly says: string;
}

export const exceptionWords: Readonly<Record<ExceptionName, ExceptionWords>> = {
  AMENDED: { mark: 'amended or retracted', title: 'Amended or retracted', says: 'Corrected or taken out of use since. The original stays, with the reason.' },
  STALE: { mark: 'stale', title: 'Stale results', says: 'Results that rest on a fact amended since.' },
  ANSWERED: { mark: 'answered or overridden', title: 'Answered or overridden', says: 'Something stood against it, and a person gave a reason for doing it all the same.' },
  INSTRUMENT: { mark: 'instrument out of check then', title: 'Instrument out of check', says: 'The instrument was overdue for its check, had failed it, or had none at that moment.' },
  SAME_HAND: { mark: 'signed by the same hand', title: 'Signed by the same hand', says: 'Reviewed or approved by who made it, or two signatures by one person. The program refuses it: there should be none.' },
  CLOCK: { mark: 'clock ahead', title: 'Clock ahead', says: 'The device’s clock was ahead of the server’s. A clock that is behind looks like an entry that comes late.' },
  LATE: { mark: 'entered late', title: 'Entered late', says: 'Observed long before it was recorded. Imported and simulated values, which always are, are not counted.' },
  TYPED: { mark: 'typed by hand', title: 'Typed by hand', says: 'Not read from an instrument or a file.' },
  IMPORTED: { mark: 'imported', title: 'Imported', says: 'From a file that was made elsewhere.' },
  SIMULATED: { mark: 'simulated', title: 'Simulated', says: 'Made up by a program, for practice or a demo.' },
};

/** How a value came in, said of very many records at once: told, but no reason to stop at each. */
export const merelyTold: ReadonlySet<ExceptionName> = new Set<ExceptionName>(['LATE', 'IMPORTED', 'SIMULATED']);
