import type { LabEvent, Role, SimulatedPerson } from '#libs/simulator';
import { createHash } from 'node:crypto';
import { v7 as uuidv7 } from 'uuid';
import { RefusedRecord, type ApiClient, type Problem } from '../client.js';
import { planPicture } from './plan-picture.js';

/** The simulator's words in the contract's spelling. */
const upper = (word: string): string => word.toUpperCase().replaceAll('-', '_');

export const contractRole = (role: Role): string => upper(role);

/** Writes simulated events through the mutations a person uses, each as the person who did it. */
export class EventWriter {
  private readonly ids = new Map<string, string>();
  /** Keeps events of one millisecond in their order. */
  private sequence = 0;
  /** Sites drawn so far. */
  private plans = 0;
  /** Bias set on each certificate, by the certificate's key, V. */
  readonly biasV: Record<string, number> = {};

  constructor(
    private readonly clients: ReadonlyMap<SimulatedPerson['key'], ApiClient>,
    private readonly password: string,
    private readonly seed: string,
  ) {}

  async write(events: readonly LabEvent[]): Promise<void> {
    for (const event of events) {
      this.introduce(event);
      await this.writeOne(event, this.clients.get(event.by)!);
    }
  }

  private introduce({ key, at }: LabEvent): string {
    const id = this.idAt(key, at);
    this.ids.set(key, id);
    return id;
  }

  /** Of the record that an event made. */
  id(key: string): string {
    const known = this.ids.get(key);
    if (!known) throw new Error(`The event ${key} is named before it happens.`);
    return known;
  }

  /** A UUIDv7 of the event's moment whose other bits follow from seed and key: the same demo has the same ids. */
  private idAt(key: string, at: string): string {
    const random = createHash('sha256').update(`${this.seed} ${at} ${key}`).digest().subarray(0, 16);
    this.sequence += 1;
    return uuidv7({ msecs: Date.parse(at), seq: this.sequence, random });
  }

  private optionalId(key: string | undefined): string | null {
    return key === undefined ? null : this.id(key);
  }

  private list(keys: readonly string[]): string[] {
    return keys.map((key) => this.id(key));
  }

  private async writeOne(event: LabEvent, client: ApiClient): Promise<void> {
    const id = this.id(event.key);
    switch (event.kind) {
      case 'crop':
        await client.send('recordCrop', 'RecordCropInput', { id, name: event.name, scientificName: event.scientificName });
        return;
      case 'plant':
        await client.send('recordPlant', 'RecordPlantInput', { id, cropId: this.id(event.cropKey), label: event.label, cultivar: event.cultivar });
        return;
      case 'leaf':
        await client.send('recordLeaf', 'RecordLeafInput', {
          id, plantId: this.id(event.plantKey), label: event.label, position: event.position, growthStage: event.growthStage, cutAt: event.cutAt,
        });
        return;
      case 'disc':
        await client.send('recordDisc', 'RecordDiscInput', { id, leafId: this.id(event.leafKey), label: event.label, diameterMm: event.diameterMm, punchedAt: event.punchedAt });
        return;
      case 'instrument':
      case 'instrument-check':
      case 'rig':
        return this.writeInstrument(event, id, client);
      case 'protocol':
        await client.send('recordProtocol', 'RecordProtocolInput', { id, name: event.name, parameters: event.parameters });
        return;
      case 'preflight':
      case 'drying-run-open':
      case 'drying-run-close':
      case 'drying-run-release':
      case 'weighing':
      case 'weighing-amendment':
      case 'meter-reading':
      case 'oven-start':
      case 'oven-unload':
        return this.writeBench(event, id, client);
      case 'calibration':
      case 'calibration-fit':
      case 'signature':
      case 'light-reference':
      case 'certificate':
        return this.writeCertification(event, id, client);
      case 'device-lot':
      case 'device-unit':
      case 'bias-sweep':
      case 'trip-test':
      case 'curve-fit':
        return this.writeDevice(event, id, client);
      case 'absorption-band':
      case 'chopped-run':
      case 'temperature-run':
      case 'cycle-count':
      case 'reset-pulse':
      case 'unit-retirement':
        return this.writePassport(event, id, client);
      case 'lot-acceptance': {
        const { at, criterion, reliability, confidence, allowedFailures, testedUnits, failedUnits, note } = event;
        await client.send('recordLotAcceptance', 'RecordLotAcceptanceInput', {
          id, deviceLotId: this.id(event.lotKey), observedAt: at, criterion, reliability, confidence, allowedFailures, testedUnits, failedUnits, note,
        });
        return;
      }
      case 'rwc-series':
        await client.send('computeRwcSeries', 'ComputeRwcSeriesInput', { id, discId: this.id(event.discKey) });
        return;
      case 'installation':
      case 'trip':
      case 'field-report':
      case 'latch-reset':
      case 'installation-end':
      case 'field-check':
      case 'decision':
      case 'decision-outcome':
        return this.writeField(event, id, client);
      case 'zone-rule':
      case 'rain':
      case 'site-plan':
        return this.writeZone(event, id, client);
      default:
        return event satisfies never;
    }
  }

  private async writeInstrument(event: Extract<LabEvent, { kind: 'instrument' | 'instrument-check' | 'rig' }>, id: string, client: ApiClient): Promise<void> {
    if (event.kind === 'instrument') {
      const { label, serialNumber, location, resolution, repeatability, unit, checkEveryHours } = event;
      await client.send('registerInstrument', 'RegisterInstrumentInput', {
        id, kind: upper(event.instrumentKind), label, serialNumber, location, resolution, repeatability, unit, checkEveryHours,
      });
    } else if (event.kind === 'instrument-check') {
      const { at, nominal, shown, tolerance } = event;
      await client.send('recordInstrumentCheck', 'RecordInstrumentCheckInput', { id, instrumentId: this.id(event.instrumentKey), observedAt: at, nominal, shown, tolerance });
    } else {
      const { label, version, source, bandCentreNm, bandWidthNm, diffuser, diffuserTransmittance, uDiffuserTransmittance, apertureMm } = event;
      await client.send('registerRig', 'RegisterRigInput', {
        id, label, version, source, bandCentreNm, bandWidthNm, diffuser, diffuserTransmittance, uDiffuserTransmittance, apertureMm, meterId: this.id(event.meterKey),
      });
    }
  }

  private async writeBench(
    event: Extract<LabEvent, { kind: 'preflight' | 'drying-run-open' | 'drying-run-close' | 'drying-run-release' | 'weighing' | 'weighing-amendment' | 'meter-reading' | 'oven-start' | 'oven-unload' }>,
    id: string,
    client: ApiClient,
  ): Promise<void> {
    switch (event.kind) {
      case 'preflight':
        await client.send('recordPreflight', 'RecordPreflightInput', {
          id, dryingRunId: this.id(event.dryingRunKey), observedAt: event.at, lampOnSince: event.lampOnSince, clockOffsetMs: event.clockOffsetMs, clockRoundTripMs: event.clockRoundTripMs, skipped: [],
        });
        return;
      case 'drying-run-open':
        await client.send('openDryingRun', 'OpenDryingRunInput', {
          id, label: event.label, rigId: this.id(event.rigKey), balanceId: this.id(event.balanceKey), discIds: this.list(event.discKeys), rhythmMin: event.rhythmMin, openedAt: event.at, protocolId: this.id(event.protocolKey),
        });
        return;
      case 'drying-run-close':
        await client.send('closeDryingRun', 'DryingRunStepInput', { id, dryingRunId: this.id(event.dryingRunKey) });
        return;
      case 'drying-run-release':
        await client.send('releaseDryingRun', 'DryingRunStepInput', { id, dryingRunId: this.id(event.dryingRunKey) });
        return;
      case 'weighing':
        await this.weigh(event, id, (input) => client.send('recordWeighing', 'RecordWeighingInput', input));
        return;
      case 'weighing-amendment': {
        const amends = { id: this.idAt(event.amendmentKey, event.at), targetId: this.id(event.amendsKey), reasonCode: upper(event.reasonCode), reason: event.reason };
        await this.weigh(event, id, (input) => amendWeighing(client, input, amends));
        return;
      }
      case 'meter-reading':
        await client.send('recordMeterReading', 'RecordMeterReadingInput', {
          id, lightPath: upper(event.lightPath), observedAt: event.observedAt, powerText: event.powerText, powerUnit: event.powerUnit,
          discId: this.optionalId(event.discKey), dryingRunId: this.id(event.dryingRunKey), entryMode: 'SIMULATED', rawLine: event.rawLine,
        });
        return;
      case 'oven-start':
        await client.send('startOvenCycle', 'StartOvenCycleInput', {
          id, label: event.label, ovenId: this.id(event.ovenKey), setTemperatureC: event.setTemperatureC, discIds: this.list(event.discKeys), startedAt: event.at,
        });
        return;
      case 'oven-unload':
        await client.send('unloadOvenCycle', 'UnloadOvenCycleInput', { id, ovenCycleId: this.id(event.ovenCycleKey), unloadedAt: event.at });
    }
  }

  /** Sends a weighing; when its flags ask, sends it again with what the person answers, as a person would. */
  private async weigh(event: Extract<LabEvent, { kind: 'weighing' | 'weighing-amendment' }>, id: string, send: (input: object) => Promise<unknown>): Promise<void> {
    const input = {
      id, discId: this.id(event.discKey), state: upper(event.state), observedAt: event.observedAt, massText: event.massText, massUnit: event.massUnit,
      balanceId: this.id(event.balanceKey), dryingRunId: this.optionalId(event.dryingRunKey), ovenCycleId: this.optionalId(event.ovenCycleKey),
      entryMode: 'SIMULATED', rawLine: event.rawLine,
    };
    try {
      await send(input);
    } catch (error) {
      if (!(error instanceof RefusedRecord) || error.problem.field !== 'flagAnswer') throw error;
      await send({ ...input, flagAnswer: event.answerIfAsked });
    }
  }

  private async writeCertification(
    event: Extract<LabEvent, { kind: 'calibration' | 'calibration-fit' | 'signature' | 'light-reference' | 'certificate' }>,
    id: string,
    client: ApiClient,
  ): Promise<void> {
    switch (event.kind) {
      case 'calibration':
        await client.send('recordCalibration', 'RecordCalibrationInput', { id, label: event.label, cropId: this.id(event.cropKey) });
        return;
      case 'calibration-fit':
        await client.send('fitCalibration', 'FitCalibrationInput', { id, calibrationId: this.id(event.calibrationKey), family: upper(event.family), dryingRunIds: this.list(event.dryingRunKeys) });
        return;
      case 'signature':
        await client.send('sign', 'SignInput', {
          id, subjectKind: event.subjectKind.replaceAll('-', '_'), subjectId: this.id(event.subjectKey), meaning: upper(event.meaning), statement: event.statement, password: this.password,
        });
        return;
      case 'light-reference': {
        const { label, site, at, powerUnit, basis, note, readings, armedFromMin, armedUntilMin, latitude, longitude, bandCentreNm, bandWidthNm, diffuser } = event;
        await client.send('recordLightReference', 'RecordLightReferenceInput', {
          id, label, site, observedAt: at, powerUnit, basis: upper(basis), note, series: readings, armedFromMin, armedUntilMin, latitude, longitude, bandCentreNm, bandWidthNm, diffuser,
        });
        return;
      }
      case 'certificate': {
        const { targetRwc, targetBasis, biasStepV, validUntil, falseTripRwc, missedTripRwc } = event;
        const issued = await client.send<{ certificate: { biasV: number } }>(
          'issueCertificate', 'IssueCertificateInput',
          {
            id, deviceUnitId: this.id(event.deviceUnitKey), calibrationVersionId: this.id(event.calibrationVersionKey),
            lightReferenceId: this.id(event.lightReferenceKey), targetRwc, targetBasis, biasStepV, validUntil, falseTripRwc, missedTripRwc,
          },
          'certificate { biasV }',
        );
        this.biasV[event.key] = issued.certificate.biasV;
      }
    }
  }

  private async writeDevice(
    event: Extract<LabEvent, { kind: 'device-lot' | 'device-unit' | 'bias-sweep' | 'trip-test' | 'curve-fit' }>, id: string, client: ApiClient,
  ): Promise<void> {
    switch (event.kind) {
      case 'device-lot':
        await client.send('registerDeviceLot', 'RegisterDeviceLotInput', { id, label: event.label });
        return;
      case 'device-unit':
        await client.send('registerDeviceUnit', 'RegisterDeviceUnitInput', { id, lotId: this.id(event.lotKey), label: event.label });
        return;
      case 'bias-sweep':
        await client.send('recordBiasSweep', 'RecordBiasSweepInput', {
          id, deviceUnitId: this.id(event.deviceUnitKey), observedAt: event.at, direction: upper(event.direction), polarity: upper(event.polarity), steps: event.steps,
        });
        return;
      case 'trip-test':
        await client.send('recordTripTest', 'RecordTripTestInput', {
          id, deviceUnitId: this.id(event.deviceUnitKey), observedAt: event.at, biasV: event.biasV, tripPowerText: event.tripPowerText, tripPowerUnit: event.tripPowerUnit, rawLine: event.rawLine,
          onCurrentA: event.onCurrentA, offCurrentA: event.offCurrentA, lightCourse: upper(event.lightCourse), temperatureC: event.temperatureC,
        });
        return;
      case 'curve-fit':
        await client.send('fitBiasThresholdCurve', 'FitBiasThresholdCurveInput', { id, deviceUnitId: this.id(event.deviceUnitKey), exponent: null });
    }
  }

  private async writePassport(
    event: Extract<LabEvent, { kind: 'absorption-band' | 'chopped-run' | 'temperature-run' | 'cycle-count' | 'reset-pulse' | 'unit-retirement' }>, id: string, client: ApiClient,
  ): Promise<void> {
    const of = { id, deviceUnitId: this.id(event.deviceUnitKey), observedAt: event.at };
    switch (event.kind) {
      case 'absorption-band':
        await client.send('recordAbsorptionBand', 'RecordAbsorptionBandInput', { ...of, centreNm: event.centreNm, widthNm: event.widthNm, peakAbsorptance: event.peakAbsorptance, method: event.method });
        return;
      case 'chopped-run':
        await client.send('recordChoppedRun', 'RecordChoppedRunInput', { ...of, biasV: event.biasV, chopHz: event.chopHz, tripPowersNw: event.tripPowersNw });
        return;
      case 'temperature-run':
        await client.send('recordTemperatureRun', 'RecordTemperatureRunInput', { ...of, biasV: event.biasV, steps: event.steps });
        return;
      case 'cycle-count':
        await client.send('recordCycleCount', 'RecordCycleCountInput', { ...of, cycles: event.cycles, switching: upper(event.switching), pullInV: event.pullInV, contactResistanceOhm: event.contactResistanceOhm });
        return;
      case 'reset-pulse':
        await client.send('recordResetPulse', 'RecordResetPulseInput', { ...of, pulseV: event.pulseV, pulseMs: event.pulseMs, succeeded: event.succeeded });
        return;
      case 'unit-retirement':
        await client.send('retireDeviceUnit', 'RetireDeviceUnitInput', { ...of, cause: upper(event.cause), reason: event.reason });
    }
  }

  /** What a logger sends of a trip or of how a unit stands, to be posted together with others. */
  logged(event: LoggedEvent): object {
    const id = this.introduce(event);
    return event.kind === 'trip' ? this.tripInput(event, id) : this.reportInput(event, id);
  }

  private tripInput({ installationKey, trippedAt, seenAt, source, lightPowerNw, note, rawLine }: Extract<LabEvent, { kind: 'trip' }>, id: string): object {
    return { id, installationId: this.id(installationKey), trippedAt, seenAt, source: upper(source), lightPowerNw, note, rawLine };
  }

  private reportInput({ installationKey, observedAt, latched, source, lightPowerNw, biasReadbackV, rawLine }: Extract<LabEvent, { kind: 'field-report' }>, id: string): object {
    return { id, installationId: this.id(installationKey), observedAt, latched, source: upper(source), lightPowerNw, biasReadbackV, rawLine };
  }

  private async writeField(event: FieldEvent, id: string, client: ApiClient): Promise<void> {
    switch (event.kind) {
      case 'installation': {
        const { site, zone, plantNote, tiltDeg, latitude, longitude, biasReadbackV, armedAt } = event;
        await client.send('recordInstallation', 'RecordInstallationInput', {
          id, deviceUnitId: this.id(event.deviceUnitKey), certificateId: this.id(event.certificateKey), plantId: this.optionalId(event.plantKey), site, zone, plantNote,
          leafSide: upper(event.leafSide), tiltDeg, latitude, longitude, biasReadbackV, armedAt,
        });
        return;
      }
      case 'trip':
        await client.send('recordTrip', 'RecordTripInput', this.tripInput(event, id));
        return;
      case 'field-report':
        await sendReport(client, this.reportInput(event, id));
        return;
      case 'latch-reset':
        await client.send('recordLatchReset', 'RecordLatchResetInput', { id, installationId: this.id(event.installationKey), observedAt: event.observedAt, opened: event.opened, note: event.note });
        return;
      case 'installation-end':
        await client.send('endInstallation', 'EndInstallationInput', { id, installationId: this.id(event.installationKey), observedAt: event.observedAt, reason: event.reason });
        return;
      case 'field-check':
        await client.send('recordFieldCheck', 'RecordFieldCheckInput', { id, installationId: this.id(event.installationKey), observedAt: event.observedAt, discIds: this.list(event.discKeys), note: event.note });
        return;
      case 'decision': {
        const { at, zone, reason, depthMm, overrode } = event;
        await client.send('recordDecision', 'RecordDecisionInput', { id, decidedAt: at, zone, action: upper(event.action), reason, depthMm, overrode, tripIds: this.list(event.tripKeys) });
        return;
      }
      case 'decision-outcome':
        await client.send('recordDecisionOutcome', 'RecordDecisionOutcomeInput', { id, decisionId: this.id(event.decisionKey), observedAt: event.observedAt, verdict: upper(event.verdict), seen: event.seen });
    }
  }

  private async writeZone(event: Extract<LabEvent, { kind: 'zone-rule' | 'rain' | 'site-plan' }>, id: string, client: ApiClient): Promise<void> {
    if (event.kind === 'zone-rule') {
      const { kind: _kind, key: _key, at: _at, by: _by, ...terms } = event;
      await client.send('recordZoneRule', 'RecordZoneRuleInput', { id, ...terms });
    } else if (event.kind === 'rain') {
      await client.send('recordRain', 'RecordRainInput', { id, zone: event.zone, observedAt: event.observedAt, depthMm: event.depthMm, note: event.note });
    } else {
      const { site, northDeg, southDeg, westDeg, eastDeg } = event;
      const storedFileId = this.idAt(`${event.key}/picture`, event.at);
      this.plans += 1;
      await client.storeFile({ id: storedFileId, name: `${site}.png`, purpose: 'PLAN' }, planPicture(0.12 * this.plans));
      await client.send('recordSitePlan', 'RecordSitePlanInput', { id, site, storedFileId, northDeg, southDeg, westDeg, eastDeg });
    }
  }
}

type FieldEvent = Extract<LabEvent, { kind: 'installation' | 'trip' | 'field-report' | 'latch-reset' | 'installation-end' | 'field-check' | 'decision' | 'decision-outcome' }>;
export type LoggedEvent = Extract<LabEvent, { kind: 'trip' | 'field-report' }>;

/** Reports go in bulk, as loggers send them; here one by one, in the order of the story. */
async function sendReport(client: ApiClient, input: object): Promise<void> {
  const { recordFieldReports: [payload] } = await client.ask<{ recordFieldReports: [{ problem: Problem | null }] }>(
    'mutation ($inputs: [RecordFieldReportInput!]!) { recordFieldReports(inputs: $inputs) { problem { code field message remedy } } }', { inputs: [input] },
  );
  if (payload.problem) throw new RefusedRecord('recordFieldReports', payload.problem);
}

async function amendWeighing(client: ApiClient, input: object, amends: object): Promise<void> {
  const { amendWeighing: payload } = await client.ask<{ amendWeighing: { problem: Problem | null } }>(
    'mutation ($input: RecordWeighingInput!, $amends: AmendsInput!) { amendWeighing(input: $input, amends: $amends) { problem { code field message remedy } } }',
    { input, amends },
  );
  if (payload.problem) throw new RefusedRecord('amendWeighing', payload.problem);
}
