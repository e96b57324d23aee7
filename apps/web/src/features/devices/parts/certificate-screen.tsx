import { useQuery } from '@apollo/client/react';
import { lazy, Suspense, useMemo } from 'react';
import { Link, useParams } from 'react-router';
import { formatNumber, formatPercentPlain } from '#libs/quantity';
import type { CertificatePageQuery } from '../../../generated/graphql.js';
import { Dated } from '../../../ui/dated.js';
import { useLive } from '../../../ui/live.js';
import { Back, Facts, Page, Section, Strip } from '../../../ui/page.js';
import { threadPath } from '../../../ui/paths.js';
import { Rwc, rwcInterval, unitText } from '../../../ui/quantity.js';
import { SignForm } from '../../../ui/signatures.js';
import { ApprovalMark, InstallationMark } from '../../../ui/state.js';
import { Moment } from '../../../ui/time.js';
import { Action, ActionLink, Empty, Failed, Flags, Notice, Waiting } from '../../../ui/words.js';
import { CertificatePage } from '../documents.js';
import { BiasCaution } from './bias-caution.js';
import styles from './certificate.module.css';
import { basisWord } from './light-screen.js';

type Certificate = NonNullable<CertificatePageQuery['thresholdCertificate']>;

const OperatingPlot = lazy(async () => ({ default: (await import('../../../plots/operating-plot.js')).OperatingPlot }));

/** The certificate as a sheet of paper, and below it what a person does with it. */
export function CertificateScreen() {
  const { id = '' } = useParams();
  const { data, error, refetch } = useQuery(CertificatePage, { variables: { id } });
  useLive(() => refetch(), ({ kind }) => ['signature', 'amendment', 'installation', 'unit_retirement'].includes(kind));
  const back = <Back to="/devices">Devices</Back>;
  if (!data) return <Page title="Certificate" margin={back}><Strip>{error ? <Failed what="this certificate" again={() => void refetch()} /> : <Waiting what="the certificate" />}</Strip></Page>;
  if (!data.thresholdCertificate) return <Page title="Certificate" margin={back}><Strip><Empty title="No certificate of this lab has this address." /></Strip></Page>;
  return <OneCertificate certificate={data.thresholdCertificate} again={() => void refetch()} />;
}

function OneCertificate({ certificate, again }: { readonly certificate: Certificate; readonly again: () => void }) {
  const { id, deviceUnit: unit, installations, state } = certificate;
  const subject = { ...certificate, kind: 'threshold_certificate' as const, word: 'certificate' };
  return (
    <Page title={`Certificate of unit ${unit.label}`} margin={<><Back to={`/devices/${unit.id}`}>Unit {unit.label}</Back><br /><ApprovalMark state={state} /></>}
      actions={<><ActionLink kind="strong" to={threadPath('threshold_certificate', id)}>Follow the thread</ActionLink>{state === 'APPROVED' ? <ActionLink to={`/field/install?unit=${unit.id}&certificate=${id}`}>Install the unit</ActionLink> : null}<Action kind="plain" onClick={() => window.print()}>Print</Action><a href={`/papers/certificate/${id}`} target="_blank" rel="noreferrer">Certificate as PDF</a></>}>
      {certificate.stale ? <Strip><Notice tone="ask" title="This certificate is stale: a fact it rests on was amended since."><Link to={`${threadPath('threshold_certificate', id)}&only=exceptions`}>See in its thread what was amended.</Link> Issue a new one from a calibration fitted anew.</Notice></Strip> : null}
      <Strip><Sheet certificate={certificate} /></Strip>
      <div className="no-print">
        <Section title="Sign"><SignForm subject={subject} onSigned={again} /></Section>
        <Section title="Installed by it">
          {installations.length === 0 ? <Empty title="No unit was installed by this certificate yet." /> : (
            <ul className={styles.plain}>{installations.map((each) => <li key={each.id}><InstallationMark state={each.state} /> <Link to={`/field/${each.id}`}>{each.site}, zone {each.zone}</Link>, armed <Moment at={each.armedAt} /></li>)}</ul>
          )}
        </Section>
      </div>
    </Page>
  );
}

/** What is printed: unit, bias, where it will trip, why, by whose word, and what to beware of. */
function Sheet({ certificate }: { readonly certificate: Certificate }) {
  const { deviceUnit: unit, calibrationVersion: version, lightReference: light, tripRwcLow, tripRwcHigh } = certificate;
  const interval = useMemo(() => [tripRwcLow, tripRwcHigh] as const, [tripRwcLow, tripRwcHigh]);
  return (
    <article className={styles.sheet} aria-label={`Threshold certificate of unit ${unit.label}`} data-state={certificate.state}>
      <header className={styles.head}>
        <p className={styles.over}>Threshold certificate</p>
        <h2>Unit {unit.label}</h2>
        <p>of {unit.lot.label}</p>
        <p className={styles.state}><ApprovalMark state={certificate.state} /></p>
        <figure className={styles.code}><img src={`/papers/code/threshold_certificate/${certificate.id}`} alt="Square code with the address of this certificate’s thread" width="104" height="104" /><figcaption>opens its thread</figcaption></figure>
      </header>
      {certificate.validity === 'VALID'
        ? <p className={styles.valid}>Valid until <Dated at={certificate.validUntil} />. It ends earlier by withdrawal, by the unit’s retirement, or when what it rests on is amended.</p>
        : <Notice tone="alarm" title="Not valid.">{certificate.notValidBecause}</Notice>}
      <dl className={styles.main}>
        <div><dt>Set the bias to</dt><dd>{certificate.biasV} V</dd></div>
        <div><dt>It trips at a light power of</dt><dd>{formatNumber(certificate.thresholdPowerNw, 1)} nW</dd></div>
        <div><dt>which is the target RWC</dt><dd><Rwc value={certificate.targetRwc} /></dd></div>
      </dl>
      <p className={styles.interval}>Of 100 leaves, 95 trip it between <strong>{rwcInterval(tripRwcLow, tripRwcHigh)}</strong> RWC (standard deviation {formatNumber(100 * certificate.tripRwcSd, 1)} RWC points).</p>
      <Chances certificate={certificate} />
      <BiasCaution />
      <p>Target: {certificate.targetBasis.replace(/\.\s*$/, '')}. Transmittance of the leaf at the target {formatNumber(certificate.transmittanceAtTarget, 4)}.</p>
      {certificate.overrides.length > 0 || certificate.overrideReason ? (
        <div className={styles.against}>
          <h3>To be read with it</h3>
          <Flags flags={certificate.overrides} />
          {certificate.overrideReason ? <p><strong>Issued all the same:</strong> “{certificate.overrideReason}”</p> : null}
        </div>
      ) : null}
      <div className={styles.halves}>
        <div>
          <h3>Chance that it has tripped</h3>
          <Suspense fallback={<Waiting what="the drawing" />}><OperatingPlot label={`Chance of a trip against RWC, unit ${unit.label}`} points={certificate.operatingCharacteristic} targetRwc={certificate.targetRwc} interval={interval} /></Suspense>
          <ChanceWords points={certificate.operatingCharacteristic} target={certificate.targetRwc} />
        </div>
        <div>
          <h3>What makes the spread</h3>
          <Shares shares={certificate.shares} />
        </div>
      </div>
      <h3>Guard</h3>
      <Guard certificate={certificate} />
      <h3>What it rests on</h3>
      <ul className={styles.plain}>
        <li>Calibration <Link to={`/calibrations/version/${version.id}`}>{version.calibration.label}, version {version.version}</Link>: {version.calibration.crop.name}, {version.leafCount} leaves, RWC {rwcInterval(version.rwcMin, version.rwcMax)}</li>
        <li>The <Link to={threadPath('bias_threshold_curve', certificate.curve.id)}>bias-threshold curve</Link> of the unit: tested from {formatNumber(certificate.curve.biasMinV, 2)} V to {formatNumber(certificate.curve.biasMaxV, 2)} V, pull-in {formatNumber(certificate.curve.pullInV, 2)} V</li>
        <li>Light reference <Link to={threadPath('light_reference', light.id)}>{light.label}</Link>, {light.site}: {light.powerText} {unitText(light.powerUnit)} ± {formatPercentPlain(Number(light.relativeSd), 1)} (1 SD), {basisWord(light.basis)}{light.days == null ? '' : ` on ${light.days} ${light.days === 1 ? 'day' : 'days'}`} <Dated at={light.observedAt} /></li>
      </ul>
      <h3>By whose word</h3>
      <ul className={styles.plain}>
        <li>Computed for {certificate.recordedBy.displayName}, <Dated at={certificate.recordedAt} />, {certificate.trials} drawn cases with the seed <code>{certificate.seed}</code>, code {certificate.codeVersion}{certificate.batch ? <>, <Link to={`/devices/batch/${certificate.batch.id}`}>together with others</Link></> : null}</li>
        {certificate.signatures.map((signature) => <li key={signature.id}>{signature.meaning.charAt(0)}{signature.meaning.slice(1).toLowerCase()} by {signature.recordedBy.displayName}, <Dated at={signature.recordedAt} />{signature.statement ? <>: “{signature.statement}”</> : null}{signature.confirmedBy === 'PASSWORD_AND_CODE' ? ', with second factor' : null}</li>)}
        {certificate.signatures.length === 0 ? <li>Not signed by anybody: a draft, not for use.</li> : null}
      </ul>
      <p className={styles.hash}>Content, SHA-256: <code>{certificate.contentHash}</code></p>
    </article>
  );
}

/** Chances at the two RWC values the agronomist named. */
function Chances({ certificate: { falseTripRwc, falseTripChance, missedTripRwc, missedTripChance } }: { readonly certificate: Certificate }) {
  if (falseTripChance == null && missedTripChance == null) return null;
  return (
    <dl className={styles.chances}>
      {falseTripRwc != null && falseTripChance != null ? <div><dt>Trips on a leaf at {formatPercentPlain(falseTripRwc, 1)}, where that is false</dt><dd>{formatPercentPlain(falseTripChance, 1)}</dd></div> : null}
      {missedTripRwc != null && missedTripChance != null ? <div><dt>Stays silent on a leaf at {formatPercentPlain(missedTripRwc, 1)}, where that is a miss</dt><dd>{formatPercentPlain(missedTripChance, 1)}</dd></div> : null}
    </dl>
  );
}

/** How far the bias lies from where it may not be, and what small changes cost. */
function Guard({ certificate: c }: { readonly certificate: Certificate }) {
  const v = (value: number): string => `${formatNumber(value, 2)} V`;
  return (
    <Facts rows={[
      { name: 'Bias source', value: `${c.biasSource ? `${c.biasSource.label}, ` : ''}steps of ${c.biasStepV} V` },
      c.exactBiasV != null && c.tripRwc != null && { name: 'Before rounding', value: <>{formatNumber(c.exactBiasV, 4)} V; rounding costs {formatNumber(100 * Math.abs(c.roundingRwc ?? 0), 2)} points and moves the trip to <Rwc value={c.tripRwc} /></> },
      c.pullInV != null && { name: 'Pull-in', value: `${v(c.pullInV)}${c.marginSigma == null ? '' : `; the bias lies ${formatNumber(c.marginSigma, 1)} standard deviations below it, at least ${c.leastMarginSigma ?? 5} are asked for`}` },
      c.testedMinV != null && c.testedMaxV != null && { name: 'Tested range', value: `${v(c.testedMinV)} to ${v(c.testedMaxV)}` },
      { name: 'Holds above', value: c.holdV == null ? 'not measured: sweep the unit down' : `${v(c.holdV)}, by its downward sweeps` },
      c.relativeSlope != null && { name: 'Ten per cent more light', value: `trips it ${formatNumber((100 * Math.log(1.1)) / c.relativeSlope, 1)} points wetter` },
      c.thresholdPerLnBias != null && { name: 'One per cent more bias', value: `moves the threshold by ${formatNumber(c.thresholdPerLnBias, 1)} %` },
    ]} />
  );
}

/** The drawing's key points in a sentence, for those who do not see it. */
function ChanceWords({ points, target }: { readonly points: Certificate['operatingCharacteristic']; readonly target: number }) {
  const nearest = (rwc: number) => points.reduce((best, point) => (Math.abs(point.rwc - rwc) < Math.abs(best.rwc - rwc) ? point : best), points[0]!);
  if (points.length === 0) return null;
  const told = [target - 0.1, target, target + 0.1].map(nearest);
  return <p className={styles.small}>{told.map(({ rwc, pTrip }) => `At ${formatPercentPlain(rwc, 0)} RWC it has tripped with a chance of ${formatPercentPlain(pTrip, 0)}.`).join(' ')}</p>;
}

const causes: Readonly<Record<string, string>> = {
  irradiance: 'the light at the site, hour by hour',
  leaf: 'how leaves differ',
  fit: 'the calibration’s mean line',
  device: 'the unit’s own threshold',
};

/** Causes from the largest down, each with its share as a bar and in per cent. */
function Shares({ shares }: { readonly shares: Certificate['shares'] }) {
  const sorted = [...shares].sort((a, b) => b.share - a.share);
  return (
    <ul className={styles.shares}>
      {sorted.map(({ cause, share, sdRwc }) => (
        <li key={cause}>
          <span>{causes[cause] ?? cause}</span><strong>{formatPercentPlain(share, 1)}{sdRwc == null ? '' : `, ${formatNumber(100 * sdRwc, 1)} points`}</strong>
          <span className={styles.bar} aria-hidden="true"><span style={{ width: `${Math.max(0, Math.min(100, 100 * share))}%` }} /></span>
        </li>
      ))}
    </ul>
  );
}
