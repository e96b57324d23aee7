/**
 * A failure that the person at the terminal can mend: its message is the whole explanation (what is wrong, with which
 * thing, what to do) and is shown alone, without a stack. Anything else that is thrown is a bug and shows its stack.
 */
export class OperatorFailure extends Error {
  override readonly name = 'OperatorFailure';
}

/** The `code` of a system or database error ('EACCES', '28P01'), undefined when it has none. */
export function codeOf(error: unknown): string | undefined {
  const code = (error as { code?: unknown } | null)?.code;
  return typeof code === 'string' ? code : undefined;
}

/** The message of whatever was thrown. */
export function messageOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}
