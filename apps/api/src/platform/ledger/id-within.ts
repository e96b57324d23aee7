import { createHash } from 'node:crypto';

/**
 * The id of what one write made beside its own record: the same write sent again finds it. Keeps the moment of the write's
 * id, as UUIDv7 has it.
 */
export function idWithin(id: string, what: string): string {
  const hex = createHash('sha256').update(`${id} ${what}`).digest('hex');
  const variant = ((parseInt(hex[3]!, 16) & 0x3) | 0x8).toString(16);
  return `${id.slice(0, 14)}7${hex.slice(0, 3)}-${variant}${hex.slice(4, 7)}-${hex.slice(7, 19)}`;
}
