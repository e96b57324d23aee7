import { InputError } from '#libs/quantity';

const EMAIL = /^[^\s@]+@[^\s@]+$/;

/** @throws InputError `NOT_AN_EMAIL` */
export function requireEmail(field: string, text: string): string {
  if (!EMAIL.test(text)) throw new InputError('NOT_AN_EMAIL', field, `"${text}" is not an e-mail address`, 'Write it like name@lab.example.');
  return text;
}
