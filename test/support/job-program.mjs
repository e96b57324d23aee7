/**
 * A process that runs jobs and nothing else, to be killed in the middle: `node job-program.mjs <database url> [step]`. Its one kind
 * of job, "slow crop", tells each step on a line and records a crop under the job's id at its end; it never gets beyond the step
 * that is named. From dist.
 */
import { Crop } from '../../dist/apps/api/src/modules/sample/sample.entity.js';
import { entities } from '../../dist/apps/api/src/entities.js';
import { Announcer } from '../../dist/apps/api/src/platform/database/announcer.js';
import { Database } from '../../dist/apps/api/src/platform/database/database.js';
import { JobRunner } from '../../dist/apps/api/src/platform/jobs/job-runner.js';
import { Jobs } from '../../dist/apps/api/src/platform/jobs/jobs.js';
import { Recorder } from '../../dist/apps/api/src/platform/ledger/recorder.js';

const [url, lastStep] = process.argv.slice(2);
const database = await Database.open(url, entities, 4);
const announcer = new Announcer(url);
await announcer.open();
const jobs = new Jobs(announcer);
const recorder = new Recorder();
jobs.define({
  name: 'slow crop',
  run: async ({ steps, name }, job) => {
    for (let step = 1; step <= steps; step += 1) {
      job.signal.throwIfAborted();
      job.progress(step / steps, `Step ${step} of ${steps}`);
      console.log(`step ${step}`);
      await new Promise((resolve) => { if (step !== Number(lastStep)) setTimeout(resolve, 50); });
    }
    return async (tx) => {
      await recorder.record(tx, job.actor, Crop, { id: job.id, name, scientificName: null }, () => ({ uses: [] }));
      return { result: { kind: 'crop', id: job.id } };
    };
  },
});
await new JobRunner(database, jobs).start(url);
console.log('at work');
