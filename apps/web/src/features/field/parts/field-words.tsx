import { Link } from 'react-router';
import type { DecisionAction, DecisionFieldsFragment, LeafSide, TripFieldsFragment } from '../../../generated/graphql.js';
import { Line } from '../../../ui/page.js';
import { Rwc, rwcInterval } from '../../../ui/quantity.js';
import { AmendedMark, DoneMark } from '../../../ui/state.js';
import { Moment } from '../../../ui/time.js';
import { Caution } from '../../../ui/words.js';
import styles from './field.module.css';

export const actionWords: Readonly<Record<DecisionAction, string>> = { IRRIGATE: 'irrigate', HOLD: 'hold', INSPECT: 'inspect' };
export const leafSideWords: Readonly<Record<LeafSide, string>> = { ADAXIAL_UP: 'upper side up', ABAXIAL_UP: 'lower side up' };

/** Stands where somebody may think otherwise. */
export const NoValve = () => <p className={styles.valve}>Threadleaf records what was decided. It never switches a valve.</p>;

export function IrrigationCaution() {
  return (
    <Caution title="Irrigation is done by people.">
      Before opening a valve make sure that nobody works in the zone, and that pressure, back-flow and water rights are in order. A unit that is silent does not say that the crop is wet.
    </Caution>
  );
}

/** "74.1 % (48 % to 102 %)", or why there is none. */
export function InferredRwc({ trip }: { readonly trip: Pick<TripFieldsFragment, 'inferredRwc' | 'inferredLow' | 'inferredHigh' | 'lightPowerNw'> }) {
  const { inferredRwc, inferredLow, inferredHigh } = trip;
  if (inferredRwc == null) return <span>RWC not inferred: the light then is not known</span>;
  return <span>RWC then about <strong><Rwc value={inferredRwc} /></strong>{inferredLow != null && inferredHigh != null ? `, 95 % between ${rwcInterval(inferredLow, inferredHigh)}` : ''}</span>;
}

/** What the unit did and when; "seen" where only the finding is known. */
export const tripMoment = (trip: Pick<TripFieldsFragment, 'trippedAt' | 'seenAt'>): string => trip.trippedAt ?? trip.seenAt;

export function TripLine({ trip, withPlace = true }: { readonly trip: TripFieldsFragment; readonly withPlace?: boolean }) {
  const { installation, decisions, amendedBy } = trip;
  return (
    <Line margin={<><Moment at={tripMoment(trip)} />{trip.trippedAt ? null : <><br />seen</>}</>} struck={amendedBy != null}>
      <span className={styles.first}>
        <Link to={`/field/trip/${trip.id}`}><strong>Unit {installation.deviceUnit.label} tripped</strong></Link>
        {withPlace ? <span>zone {installation.zone}, {installation.site}</span> : null}
        <span>{trip.source === 'LOGGER' ? 'from a logger' : `seen by ${trip.recordedBy.displayName}`}</span>
      </span>
      <InferredRwc trip={trip} />
      {trip.note ? <span>“{trip.note}”</span> : null}
      {amendedBy ? <span><AmendedMark /> {amendedBy.reason}</span> : null}
      {decisions.length === 0
        ? <span><DoneMark done={false} word="not decided yet" /></span>
        : decisions.map(({ id, action, decidedAt }) => <span key={id}><DoneMark done word="decided" />: <Link to={`/field/decision/${id}`}>{actionWords[action]}</Link>, <Moment at={decidedAt} /></span>)}
    </Line>
  );
}

export function DecisionLine({ decision }: { readonly decision: DecisionFieldsFragment }) {
  const { action, depthMm, trips } = decision;
  return (
    <Line margin={<Moment at={decision.decidedAt} />}>
      <span className={styles.first}>
        <Link to={`/field/decision/${decision.id}`}><strong>Zone {decision.zone}: {actionWords[action]}{depthMm ? ` ${depthMm} mm` : ''}</strong></Link>
        <span>{decision.recordedBy.displayName}, after {trips.length} {trips.length === 1 ? 'trip' : 'trips'}</span>
      </span>
      <span>“{decision.reason}”</span>
      {decision.overrode ? <span>Decided against: “{decision.overrode}”</span> : null}
    </Line>
  );
}
