import { InputError } from '#libs/quantity';

/** A label or name as entered, without space around it; refused when nothing is left. */
export function requireText(field: string, text: string): string {
  const trimmed = text.trim();
  if (!trimmed) throw new InputError('MISSING', field, 'is empty', 'Enter a text.');
  if (trimmed.length > 400) throw new InputError('TOO_LONG', field, `has ${trimmed.length} characters`, 'Use at most 400.');
  return trimmed;
}

/** Optional text: null when absent or blank. */
export const optionalText = (text: string | null | undefined): string | null => text?.trim() || null;
