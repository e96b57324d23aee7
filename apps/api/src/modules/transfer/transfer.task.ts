import { studyReadings } from './compute.js';

/** A study with many readings, in a thread of its own: see platform/jobs/threads.ts. */
export function run({ given, own, request, remarks }: { readonly given: Parameters<typeof studyReadings>[0]; readonly own: Parameters<typeof studyReadings>[1]; readonly request: Parameters<typeof studyReadings>[2]; readonly remarks: Parameters<typeof studyReadings>[3] }): unknown {
  return studyReadings(given, own, request, remarks);
}
