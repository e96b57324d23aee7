/**
 * A mixed model of 30 leaves x 20 readings, random intercept and slope, by REML: this library against lme4 on the same data.
 *
 * Run alone: node --conditions=threadleaf-source --import ./test/reference/load-typescript.mjs test/bench/numbers/mixed.mjs
 * (or without the two options after a build).
 */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';

const LEAVES = 30;
const READINGS = 20;
const WARM_UP = 200;
const REPEATS = 200;

/** lme4's default control, as its users run it; times are of lmer() alone, after warm-up, without R's start. */
const LME4 = `
suppressMessages({library(lme4); library(jsonlite)})
d <- as.data.frame(fromJSON(commandArgs(TRUE)[1]))
for (i in 1:5) m <- lmer(lnT ~ rwc + (rwc | leaf), d, REML = TRUE)
ms <- replicate(50, { t <- proc.time()[["elapsed"]]; for (i in 1:2) lmer(lnT ~ rwc + (rwc | leaf), d, REML = TRUE); 500 * (proc.time()[["elapsed"]] - t) })
cat(toJSON(list(medianMs = median(ms), logLikelihood = as.numeric(logLik(m)), version = as.character(packageVersion("lme4"))), digits = 12, auto_unbox = TRUE))
`;

/**
 * @returns {Promise<{ name: string, ours: { medianMs: number }, theirs: { program: string, medianMs: number } | null,
 *   timesFaster: number | null, target: number, met: boolean | null, agreement: string }>}
 *   `theirs` is null, with the reason in `agreement`, where R or lme4 is not installed.
 */
export async function benchMixedModel({ rscript = 'Rscript' } = {}) {
  const { fitMixedModel, interceptTerm } = await import('#libs/regression');
  const { createStream } = await import('#libs/numeric');
  const data = simulate(createStream(20261125n, 30));
  const one = interceptTerm(data.rwc.length);
  const rwc = { name: 'rwc', values: data.rwc };
  const model = {
    response: data.lnT,
    fixed: [one, rwc],
    levels: [{ name: 'leaf', groups: data.leaf, terms: [one, rwc], covariance: 'full' }],
    method: 'REML',
  };
  for (let i = 0; i < WARM_UP; i += 1) fitMixedModel(model);
  const times = Array.from({ length: REPEATS }, () => {
    const start = process.hrtime.bigint();
    fitMixedModel(model);
    return Number(process.hrtime.bigint() - start) / 1e6;
  });
  const medianMs = times.sort((a, b) => a - b)[REPEATS / 2];
  const ours = fitMixedModel(model);
  const result = { name: `mixed model, ${LEAVES} leaves x ${READINGS} readings, REML`, ours: { medianMs }, target: 1 };
  const reference = runLme4(rscript, data);
  if (typeof reference === 'string') return { ...result, theirs: null, timesFaster: null, met: null, agreement: reference };
  const difference = Math.abs(ours.logLikelihood - reference.logLikelihood);
  // A faster wrong answer is no result: lme4 by default stops within about 1e-6 of the greatest likelihood.
  if (!(difference < 1e-3)) throw new Error(`log-likelihoods differ: ${ours.logLikelihood} here, ${reference.logLikelihood} by lme4`);
  const timesFaster = reference.medianMs / medianMs;
  return {
    ...result,
    theirs: { program: `lme4 ${reference.version}`, medianMs: reference.medianMs },
    timesFaster,
    met: timesFaster >= 1,
    agreement: `log-likelihood ${ours.logLikelihood.toFixed(6)}, lme4 differs by ${difference.toExponential(1)}`,
  };
}

function simulate(stream) {
  const data = { leaf: [], rwc: [], lnT: [] };
  for (let leaf = 0; leaf < LEAVES; leaf += 1) {
    const height = 0.08 * stream.normal();
    const slope = 0.06 * stream.normal();
    for (let k = 0; k < READINGS; k += 1) {
      const rwc = 1 - (0.55 * k) / (READINGS - 1) + 0.008 * stream.normal();
      data.leaf.push(`L${leaf}`);
      data.rwc.push(rwc);
      data.lnT.push(-0.9 + height - (1 + slope) * rwc + 0.02 * stream.normal());
    }
  }
  return data;
}

function runLme4(rscript, data) {
  const folder = mkdtempSync(join(tmpdir(), 'bench-mixed-'));
  try {
    const dataFile = join(folder, 'data.json');
    const script = join(folder, 'fit.R');
    writeFileSync(dataFile, JSON.stringify(data));
    writeFileSync(script, LME4);
    return JSON.parse(execFileSync(rscript, [script, dataFile], { encoding: 'utf8', stdio: ['ignore', 'pipe', 'pipe'] }));
  } catch (error) {
    return `lme4 was not measured: ${error.code === 'ENOENT' ? 'Rscript is not installed' : String(error.stderr ?? error).trim()}`;
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

if (process.argv[1] !== undefined && import.meta.url === pathToFileURL(process.argv[1]).href) {
  console.log(await benchMixedModel());
}
