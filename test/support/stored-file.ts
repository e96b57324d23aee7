import { newId, type Client } from './lab.js';

/** POST /files as a page or program does it. */
export function sendFile(client: Client, parameters: Record<string, string>, bytes: Uint8Array, headers: Record<string, string> = {}): Promise<Response> {
  return client.request(`/files?${new URLSearchParams(parameters)}`, {
    method: 'POST', headers: { 'content-type': 'application/octet-stream', 'x-threadleaf': '1', ...headers }, body: new Uint8Array(bytes),
  });
}

/** Stores a file and fails the test with the problem's words when it is refused. */
export async function storeFile(client: Client, name: string, bytes: Uint8Array, purpose = 'PHOTO', id = newId()): Promise<{ id: string; sha256: string; mediaType: string; url: string }> {
  const answer = (await (await sendFile(client, { id, name, purpose }, bytes)).json()) as any;
  if (answer.problem) throw new Error(`POST /files: ${answer.problem.message} ${answer.problem.remedy}`);
  return answer.storedFile;
}

/** The smallest PNG: one transparent pixel (W3C PNG specification, a complete datastream). */
export const PIXEL = Buffer.from('iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNkYPhfDwAChwGA60e6kgAAAABJRU5ErkJggg==', 'base64');
