import type { Role } from '../generated/graphql.js';

const words: Readonly<Record<Role, string>> = {
  TECHNICIAN: 'technician',
  RESEARCHER: 'researcher',
  MANAGER: 'manager',
  AUDITOR: 'auditor',
  FIELD_ENGINEER: 'field engineer',
  ADMINISTRATOR: 'administrator',
};

export const roles = Object.keys(words) as readonly Role[];
export const roleWord = (role: Role): string => words[role];
