import { leave, openStage, scene, screenFindings, visit, type Page, type Stage } from '../support/browser.js';
import { record } from '../support/chain.js';
import { newId } from '../support/lab.js';
import { approvedProtocol } from '../support/protocol.js';
import { driedLeaves, fillLab, sign, type FilledLab } from '../support/whole-chain.js';

let stage: Stage;
let filled: FilledLab;
let openRunId: string;
let startedCycleId: string;
const trayId = newId();
let protocolId: string;
let shared: { shareId: string; adoptedId: string };
let page: Page;

beforeAll(async () => {
  stage = await openStage('Filled lab');
  filled = await fillLab(stage.lab);
  ({ openRunId, startedCycleId } = await benchInUse());
  shared = await sharedFromNextDoor();
  protocolId = await approvedProtocol(stage.lab, 'Screen protocol');
  page = await stage.signedIn('MANAGER');
}, 180_000);

afterAll(() => stage.close());

/** A drying run that is open and an oven that is loaded: their screens hold the forms of the day's work. */
async function benchInUse(): Promise<{ openRunId: string; startedCycleId: string }> {
  const technician = stage.lab.as('TECHNICIAN');
  const { bench } = filled;
  const [run, cycle, ...discIds] = Array.from({ length: 4 }, newId) as [string, string, string, string];
  for (const [i, id] of discIds.entries()) await record(technician, 'recordDisc', 'RecordDiscInput', { id, leafId: bench.leafId, label: `E-${i + 1}`, diameterMm: '10' });
  const openedAt = new Date().toISOString();
  await record(technician, 'openDryingRun', 'OpenDryingRunInput', { id: run, label: 'R-open', rigId: bench.rigId, balanceId: bench.balanceId, discIds, openedAt });
  await record(technician, 'recordWeighing', 'RecordWeighingInput', {
    id: newId(), discId: discIds[0], state: 'TURGID', observedAt: openedAt, massText: '70.00', massUnit: 'mg', balanceId: bench.balanceId, dryingRunId: run, entryMode: 'TYPED', rawLine: '70.00',
  });
  await record(technician, 'startOvenCycle', 'StartOvenCycleInput', { id: cycle, label: 'O-started', ovenId: bench.ovenId, setTemperatureC: '70', discIds, startedAt: openedAt });
  await record(technician, 'startHydration', 'StartHydrationInput', { id: newId(), label: 'H-1', discIds, startedAt: openedAt, waterC: '20.5' });
  await record(technician, 'recordPlace', 'RecordPlaceInput', { id: trayId, placeKind: 'TRAY', label: 'Tray 7', positionRows: 1, positionColumns: 2 });
  await record(technician, 'recordCustody', 'RecordCustodyInput', { moves: [{ id: newId(), subjectKind: 'DISC', subjectId: discIds[0] }], placeId: trayId, movedAt: openedAt });
  return { openRunId: run, startedCycleId: cycle };
}

/** Another lab shares a calibration with its readings, and this one takes it over. */
async function sharedFromNextDoor(): Promise<{ shareId: string; adoptedId: string }> {
  const giver = await stage.server.openLab('Lab next door');
  const [calibrationId, versionId, shareId, adoptedId] = Array.from({ length: 4 }, newId) as [string, string, string, string];
  const { bench, run } = await driedLeaves(giver, [0.02, -0.05, 0.04]);
  const researcher = giver.as('RESEARCHER');
  await record(researcher, 'recordCalibration', 'RecordCalibrationInput', { id: calibrationId, label: 'Next door', cropId: bench.cropId });
  await record(researcher, 'fitCalibration', 'FitCalibrationInput', { id: versionId, calibrationId, dryingRunIds: [run.dryingRunId] });
  await sign(giver.as('FIELD_ENGINEER'), 'calibration_version', versionId, 'REVIEWED');
  await sign(giver.as('MANAGER'), 'calibration_version', versionId, 'APPROVED');
  await record(researcher, 'shareCalibration', 'ShareCalibrationInput', { id: shareId, calibrationVersionId: versionId, depth: 'RAW', permits: 'REUSE', licence: 'CC BY 4.0', citation: 'Lab next door, 2026' });
  await record(researcher, 'grantShare', 'GrantShareInput', { id: newId(), shareId, audience: 'EVERY_LAB' });
  await record(stage.lab.as('RESEARCHER'), 'adoptCalibration', 'AdoptCalibrationInput', { id: newId(), versionId: adoptedId, shareId, calibrationId: filled.calibrationId, rigId: filled.bench.rigId, reason: 'Same crop' });
  return { shareId, adoptedId };
}

const screens: readonly (readonly [name: string, heading: string | RegExp, path: () => string])[] = [
  ['Due', 'Due', () => '/due'],
  ['Bench', 'Bench', () => '/bench'],
  ['opening a run', 'Open a drying run', () => '/bench/open'],
  ['discs on water', 'Discs on water', () => '/bench/water'],
  ['an open run', 'Run R-open', () => `/bench/${openRunId}`],
  ['a released run', 'Run R1', () => `/bench/${filled.run.dryingRunId}`],
  ['Samples', 'Samples', () => '/samples'],
  ['plants and leaves', 'Plants and leaves', () => '/samples/plants'],
  ['a leaf', 'Leaf F1-L1', () => `/samples/leaf/${filled.bench.leafId}`],
  ['a disc', 'Disc D1-1', () => `/samples/disc/${filled.run.discIds[0]}`],
  ['recording samples', 'Record samples', () => '/samples/record'],
  ['a plant', 'Plant F1', () => `/samples/plant/${filled.plantId}`],
  ['places', 'Places', () => '/samples/places'],
  ['a place', 'Tray 7', () => `/samples/place/${trayId}`],
  ['labels', 'Labels', () => `/samples/labels?kind=DISC&ids=${filled.run.discIds[0]}`],
  ['Ovens', 'Ovens', () => '/ovens'],
  ['loading an oven', 'Load an oven', () => '/ovens/start'],
  ['an oven cycle', 'Oven cycle O-started', () => `/ovens/${startedCycleId}`],
  ['Instruments', 'Instruments', () => '/instruments'],
  ['a balance', 'Balance 1', () => `/instruments/${filled.bench.balanceId}`],
  ['a rig', 'Rig A, version 1', () => `/instruments/rig/${filled.bench.rigId}`],
  ['protocols', 'Protocols', () => '/lab/protocols'],
  ['writing a protocol', 'Write a protocol', () => '/lab/protocols/write'],
  ['a protocol', 'Screen protocol, version 1', () => `/lab/protocols/${protocolId}`],
  ['what a fault reaches', 'What a fault of Balance 1 reaches', () => `/instruments/${filled.bench.balanceId}/fault?from=2026-06-03T09:00:00Z&to=2026-06-03T09:20:00Z&offset=0.4`],
  ['Import', 'Import', () => '/import'],
  ['Calibrations', 'Calibrations', () => '/calibrations'],
  ['a calibration', 'Fig on rig A', () => `/calibrations/${filled.calibrationId}`],
  ['fitting a version', 'Fit Fig on rig A', () => `/calibrations/${filled.calibrationId}/fit`],
  ['a calibration version', 'Fig on rig A, version 1', () => `/calibrations/version/${filled.versionId}`],
  ['a calibration of another lab', 'Next door, version 1', () => `/calibrations/shared/${shared.shareId}`],
  ['a version taken over', 'Fig on rig A, version 2', () => `/calibrations/version/${shared.adoptedId}`],
  ['refitting it', 'Refit Fig on rig A, version 2', () => `/calibrations/${filled.calibrationId}/fit?refit=${shared.adoptedId}`],
  ['a pack of another server', 'Take over from a file', () => '/calibrations/pack'],
  ['spectra', 'Spectra', () => '/calibrations/spectra'],
  ['trying a version on other leaves', 'Try Fig on rig A, version 1 on other leaves', () => `/calibrations/version/${filled.versionId}/transfer`],
  ['Devices', 'Devices', () => '/devices'],
  ['a unit', 'Unit U-701', () => `/devices/${filled.unitId}`],
  ['light references', 'Light references', () => '/devices/light'],
  ['issuing a certificate', 'Certificate for unit U-701', () => `/devices/${filled.unitId}/certify`],
  ['a certificate', 'Certificate of unit U-701', () => `/devices/certificate/${filled.certificateId}`],
  ['Field', 'Field', () => '/field'],
  ['installing a unit', 'Install a unit', () => `/field/install?unit=${filled.unitId}`],
  ['an installation', 'Unit U-701 in zone N2', () => `/field/${filled.installationId}`],
  ['a trip', 'Trip of unit U-701', () => `/field/trip/${filled.tripId}`],
  ['recording a decision', 'Record a decision', () => '/field/decide'],
  ['decisions', 'Decisions', () => '/field/decisions'],
  ['a decision', 'Zone N2: irrigate 12 mm', () => `/field/decision/${filled.decisionId}`],
  ['Ledger', 'Ledger', () => '/ledger'],
  ['checkpoints', 'Checkpoints to keep', () => '/ledger/checkpoints'],
  ['results computed again', 'Results computed again', () => '/ledger/results'],
  ['Lab', 'Lab', () => '/lab'],
  ['Thread down', /^Thread of /, () => `/thread/decision/${filled.decisionId}?direction=down`],
  ['Thread up', /^Thread of /, () => `/thread/weighing/${filled.run.weighingIds[0]![0]}?direction=up`],
  ['no such page', 'No such page', () => '/nowhere'],
];

scene('an address within a word that leads to no screen says so', async () => {
  for (const word of ['bench', 'samples', 'ovens', 'instruments', 'calibrations', 'devices', 'field', 'ledger', 'lab']) {
    await visit(page, `/${word}/none/such/as/this`);
    await page.getByRole('heading', { level: 1, name: 'No such page' }).waitFor();
  }
});

describe('at desk and on a phone: without a finding of axe, sideways scroll or unseen focus', () => {
  scene('sign-in', async () => {
    const door = await stage.open();
    await door.getByRole('heading', { level: 1, name: 'Threadleaf' }).waitFor();
    expect(await screenFindings(door)).toEqual([]);
    await leave(door);
  });

  for (const [name, heading, path] of screens) {
    scene(name, async () => {
      await visit(page, path());
      await page.getByRole('heading', { level: 1, name: heading }).waitFor();
      expect(await screenFindings(page)).toEqual([]);
    });
  }
});
