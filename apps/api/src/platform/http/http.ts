import type { Request, Response } from 'express';
import { v7 as uuidv7 } from 'uuid';
import { InputError } from '#libs/quantity';
import type { ProblemCode, Role } from '../../generated/schema.js';
import { asProblem, ProblemError } from '../errors/problem.js';
import type { Actor } from '../identity/actor.js';
import type { Sessions } from '../identity/sessions.js';
import { tokenReaches, type TokenScopes } from '../identity/token-scopes.js';

/** What is served outside of GraphQL, each below its own first part of the path: bytes that are no JSON. */
export const OWN_PATHS: readonly string[] = ['/graphql', '/files', '/labels', '/calendar', '/papers'];

/** An expected failure with a status of its own. */
export class HttpProblem extends ProblemError {
  constructor(readonly status: number, code: ProblemCode, field: string | null, problem: string, remedy: string) {
    super(code, field, problem, remedy);
  }
}

const STATUS: Partial<Record<ProblemCode, number>> = { NOT_FOUND: 404, REPLAY_MISMATCH: 409, STATE: 409, CREDENTIALS: 401 };

/** Runs a request's work; an expected failure is told as `{ problem }`, a bug is logged under an id and not shown. */
export async function answering(response: Response, work: () => Promise<void>): Promise<void> {
  try {
    await work();
  } catch (error) {
    const expected = asProblem(error);
    const id = uuidv7();
    if (!expected) console.error(`Error ${id}:`, error);
    if (response.headersSent) {
      response.destroy();
      return;
    }
    // What was said of the answer that could not be given does not hold for this one.
    for (const name of ['Content-Length', 'Content-Disposition', 'Cache-Control', 'ETag', 'Content-Security-Policy']) response.removeHeader(name);
    const status = error instanceof HttpProblem ? error.status : expected ? (STATUS[expected.problem.code] ?? 400) : 500;
    response.status(status).json(expected ? { problem: expected.problem } : { problem: {
      code: 'COMPUTATION', field: null, message: 'Something went wrong on the server; nothing was recorded.', remedy: `Tell the administrator the number ${id}.`,
    } });
  }
}

/**
 * @param route  method and path as the module's token scopes name it, for example `POST /files`
 * @throws HttpProblem 401 when nobody is signed in or the access token does not stand, 403 when its scopes do not hold the route
 */
export async function requireMember(sessions: Sessions, request: Request, route: string, scopes: TokenScopes): Promise<Actor> {
  const { actor, tokenRefused } = await sessions.find(request);
  if (tokenRefused) throw new HttpProblem(401, 'CREDENTIALS', null, 'The access token is unknown, revoked or expired.', 'Make a new one on the Lab screen.');
  if (!actor) throw new HttpProblem(401, 'CREDENTIALS', null, 'Nobody is signed in.', 'Sign in and try again.');
  if (!tokenReaches(actor, route, scopes)) {
    throw new HttpProblem(403, 'STATE', null, `${route} lies outside the scopes of the token ${actor.token!.label}.`, 'Use a token with another scope, or sign in.');
  }
  return actor;
}

/** @throws HttpProblem 403 for a member with none of the roles */
export function refuseRoles(actor: Actor, roles: readonly Role[], what: string): void {
  if (actor.roles.some((role) => roles.includes(role))) return;
  throw new HttpProblem(403, 'STATE', null, `${what} needs one of the roles ${roles.join(', ').toLowerCase().replaceAll('_', ' ')}.`, 'Ask an administrator of the lab.');
}

/** A page of another site can send a form with the person's cookie, but not this header without asking first, which is never allowed. */
export const OWN_HEADER = 'x-threadleaf';

/** @throws HttpProblem 403 for a write that a page of another site could have sent */
export function ownPage(request: Request): void {
  const site = request.headers['sec-fetch-site'];
  if (request.headers[OWN_HEADER] && (site === undefined || site === 'same-origin' || site === 'none')) return;
  throw new HttpProblem(403, 'INPUT', null, 'This write does not come from a page or program of this server.', 'Send the header X-Threadleaf: 1 with it.');
}

/** Reads the parameters of an address, each at most once. */
export const asked = (request: Request) => (name: string): string | null => {
  const value = request.query[name];
  return typeof value === 'string' && value !== '' ? value : null;
};

const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/i;

/** @throws InputError `NOT_AN_ID` */
export function requireId(field: string, text: string | null): string {
  if (!text || !UUID.test(text)) throw new InputError('NOT_AN_ID', field, `${text ? `"${text}" is` : 'is'} no id`, 'Give a UUID, version 7 for a new record.');
  return text.toLowerCase();
}

/** What a PDF made for one person is sent as: shown, not kept by anybody between. */
export function sayPdf(response: Response, name: string): void {
  response.status(200).set({
    'Content-Type': 'application/pdf',
    'Content-Disposition': `inline; filename*=UTF-8''${encodeURIComponent(name).replace(/['()*]/g, (sign) => `%${sign.charCodeAt(0).toString(16).toUpperCase()}`)}`,
    'Cache-Control': 'private, no-store',
    'X-Content-Type-Options': 'nosniff',
  });
}
