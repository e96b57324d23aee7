import { Injectable } from '@nestjs/common';
import { InputError, parseDecimal, requirePositive } from '#libs/quantity';
import type { RecordDecisionInput, RecordFieldCheckInput, RecordInstallationInput, RecordTripInput } from '../../generated/schema.js';
import type { Tx } from '../../platform/database/database.js';
import { rowById, rowsByIds } from '../../platform/database/rows.js';
import { notFound, ProblemError } from '../../platform/errors/problem.js';
import { parseMoment } from '../../platform/graphql/moment.js';
import { optionalText, requireText } from '../../platform/graphql/text.js';
import type { Actor } from '../../platform/identity/actor.js';
import { Recorder, type Use, type Written } from '../../platform/ledger/recorder.js';
import { missingDiscs } from '../bench/bench.repository.js';
import { ThresholdCertificate } from '../certificate/certificate.entity.js';
import { ZoneAdvice } from '../zone/zone.entity.js';
import { Decision, FieldCheck, Installation, Trip } from './field.entity.js';
import { requireNotAhead } from './moments.js';
import { objectionsToInstalling } from './objections.js';

const decimal = (field: string, text: string | null | undefined): string | null => (text ? parseDecimal(text, { field }).decimal : null);

/** Installations, trips, field checks and decisions. Threadleaf records them; it never switches a valve. */
@Injectable()
export class FieldService {
  constructor(private readonly recorder: Recorder) {}

  recordInstallation(tx: Tx, actor: Actor, input: RecordInstallationInput): Promise<Written<Installation>> {
    const { at, offsetMin } = parseMoment('armedAt', input.armedAt);
    const readback = parseDecimal(input.biasReadbackV, { field: 'biasReadbackV' });
    const given = {
      id: input.id,
      deviceUnitId: input.deviceUnitId,
      thresholdCertificateId: input.certificateId,
      site: requireText('site', input.site),
      zone: requireText('zone', input.zone),
      plantNote: requireText('plantNote', input.plantNote),
      leafSide: input.leafSide,
      tiltDeg: decimal('tiltDeg', input.tiltDeg),
      latitude: decimal('latitude', input.latitude),
      longitude: decimal('longitude', input.longitude),
      biasReadbackV: readback.decimal,
      armedAt: at,
      armedOffsetMin: offsetMin,
      overrideReason: optionalText(input.overrideReason),
      plantId: input.plantId ?? null,
      photoFileId: input.photoFileId ?? null,
    };
    return this.recorder.record(tx, actor, Installation, given, async () => {
      requirePlace(given);
      const certificate = await rowById(tx, ThresholdCertificate, input.certificateId);
      if (!certificate) throw notFound('certificateId', 'The certificate');
      if (certificate.deviceUnitId !== input.deviceUnitId) {
        throw new ProblemError('INPUT', 'certificateId', 'This certificate was made for another unit.', 'Each unit has a bias of its own: choose the certificate of this one.');
      }
      const objections = await objectionsToInstalling(tx, certificate, { ...given, biasReadbackV: readback.value });
      if (objections.length > 0 && !given.overrideReason) {
        throw new ProblemError('OUT_OF_SCOPE', 'overrideReason', objections.map(({ message }) => message).join(' '), 'Mend it, or give the reason for installing it all the same.', { objections });
      }
      return {
        uses: [
          { kind: 'device_unit', id: input.deviceUnitId, role: 'of' },
          { kind: 'threshold_certificate', id: certificate.id, role: 'by' },
          ...(given.plantId ? [{ kind: 'plant', id: given.plantId, role: 'under' }] : []),
          ...(given.photoFileId ? [{ kind: 'stored_file', id: given.photoFileId, role: 'photo' }] : []),
        ],
        reason: given.overrideReason,
      };
    });
  }

  recordTrip(tx: Tx, actor: Actor, input: RecordTripInput): Promise<Written<Trip>> {
    const seen = parseMoment('seenAt', input.seenAt);
    const tripped = input.trippedAt ? parseMoment('trippedAt', input.trippedAt) : null;
    const light = input.lightPowerNw ? parseDecimal(input.lightPowerNw, { field: 'lightPowerNw' }) : null;
    if (light) requirePositive('lightPowerNw', light.value);
    const given = {
      id: input.id,
      installationId: input.installationId,
      trippedAt: tripped?.at ?? null,
      trippedOffsetMin: tripped?.offsetMin ?? null,
      seenAt: seen.at,
      seenOffsetMin: seen.offsetMin,
      source: input.source,
      lightPowerNw: light?.decimal ?? null,
      note: optionalText(input.note),
      rawLine: input.rawLine ?? null,
    };
    return this.recorder.record(tx, actor, Trip, given, async () => {
      const installation = await rowById(tx, Installation, input.installationId);
      if (!installation) throw notFound('installationId', 'The installation');
      if ((tripped ?? seen).at < installation.armedAt) {
        throw new InputError('BEFORE_ARMED', tripped ? 'trippedAt' : 'seenAt', 'lies before the unit was armed', 'Check the moment and its offset, or the installation.');
      }
      requireNotAhead('seenAt', seen.at);
      if (tripped && tripped.at > seen.at) throw new InputError('AFTER_SEEN', 'trippedAt', 'lies after the moment it was seen', 'Check both moments.');
      return { uses: [{ kind: 'installation', id: installation.id, role: 'of' }] };
    });
  }

  recordFieldCheck(tx: Tx, actor: Actor, input: RecordFieldCheckInput): Promise<Written<FieldCheck>> {
    const { at, offsetMin } = parseMoment('observedAt', input.observedAt);
    const given = {
      id: input.id,
      installationId: input.installationId,
      observedAt: at,
      observedOffsetMin: offsetMin,
      discIds: input.discIds,
      note: optionalText(input.note),
    };
    return this.recorder.record(tx, actor, FieldCheck, given, async () => {
      if (input.discIds.length === 0) throw new InputError('MISSING', 'discIds', 'names no disc', 'Name the discs that were taken.');
      if ((await missingDiscs(tx, input.discIds)).length > 0) throw notFound('discIds', 'One of the discs');
      return {
        uses: [{ kind: 'installation', id: input.installationId, role: 'of' }, ...input.discIds.map((id): Use => ({ kind: 'disc', id, role: 'with' }))],
      };
    });
  }

  recordDecision(tx: Tx, actor: Actor, input: RecordDecisionInput): Promise<Written<Decision>> {
    const { at, offsetMin } = parseMoment('decidedAt', input.decidedAt);
    const given = {
      id: input.id,
      decidedAt: at,
      decidedOffsetMin: offsetMin,
      zone: requireText('zone', input.zone),
      action: input.action,
      reason: requireText('reason', input.reason),
      depthMm: decimal('depthMm', input.depthMm),
      overrode: optionalText(input.overrode),
      tripIds: input.tripIds,
      zoneAdviceId: input.zoneAdviceId ?? null,
    };
    return this.recorder.record(tx, actor, Decision, given, async () => {
      if (Number(given.depthMm ?? 0) < 0) throw new InputError('NEGATIVE', 'depthMm', `is ${given.depthMm}`, 'Give zero or more.');
      if (input.action !== 'IRRIGATE' && given.depthMm !== null) {
        throw new InputError('NOT_WANTED', 'depthMm', 'is given although no irrigation was decided', 'Leave it empty, or decide to irrigate.');
      }
      const trips = await rowsByIds(tx, Trip, input.tripIds);
      if (trips.length < new Set(input.tripIds).size) throw notFound('tripIds', 'One of the trips');
      const advice = given.zoneAdviceId === null ? null : await rowById(tx, ZoneAdvice, given.zoneAdviceId);
      if (given.zoneAdviceId !== null && !advice) throw notFound('zoneAdviceId', 'The advice');
      if (advice && advice.zone !== given.zone) throw new InputError('OTHER_ZONE', 'zoneAdviceId', `is of zone ${advice.zone}`, 'Name the advice for the zone decided on.');
      if (trips.length === 0 && !advice) throw new InputError('MISSING', 'tripIds', 'names no trip', 'Name the trips that the decision rests on, or the advice of the zone\'s rule.');
      requireReasonAgainst(advice, given);
      return {
        uses: [...trips.map(({ id }): Use => ({ kind: 'trip', id, role: 'after' })), ...(advice ? [{ kind: 'zone_advice', id: advice.id, role: 'on' }] : [])],
        reason: given.reason,
      };
    });
  }
}

/** Who goes against what the rule said tells so: the Thread shows it. */
function requireReasonAgainst(advice: ZoneAdvice | null, { action, overrode }: { action: string; overrode: string | null }): void {
  if (!advice || overrode) return;
  const asks = advice.document.advice === 'irrigate';
  if (asks === (action === 'IRRIGATE') || (action === 'INSPECT' && !asks)) return;
  throw new InputError('MISSING', 'overrode', `is missing: the rule said ${advice.document.advice}`, 'Say what was decided against, and why.');
}

function requirePlace({ latitude, longitude, tiltDeg }: { latitude: string | null; longitude: string | null; tiltDeg: string | null }): void {
  const within = (field: string, text: string | null, most: number): void => {
    if (text !== null && Math.abs(Number(text)) > most) throw new InputError('OUT_OF_RANGE', field, `is ${text}`, `Give degrees within ${most} of zero.`);
  };
  within('latitude', latitude, 90);
  within('longitude', longitude, 180);
  within('tiltDeg', tiltDeg, 90);
}
