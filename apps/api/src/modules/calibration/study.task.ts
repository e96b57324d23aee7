import { compareCalibrations } from './compare.js';
import { studyCalibration } from './study.js';
import type { StudyInput } from './study-document.js';

/** The builder's computing, in a thread of its own: see platform/jobs/threads.ts. */
export function run({ compare, input }: { readonly compare: boolean; readonly input: StudyInput }, progress: (fraction: number, sentence?: string) => void): unknown {
  return compare ? compareCalibrations(input, progress) : studyCalibration(input);
}
