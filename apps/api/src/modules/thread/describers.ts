import { amendmentDescribers } from '../amendment/amendment.describers.js';
import { benchDescribers } from '../bench/bench.describers.js';
import { calibrationDescribers } from '../calibration/calibration.describers.js';
import { calibrationScopeDescribers } from '../calibration-scope/calibration-scope.describers.js';
import { shareDescribers } from '../share/share.describers.js';
import { certificateDescribers } from '../certificate/certificate.describers.js';
import { deviceDescribers } from '../device/device.describers.js';
import { dryingImportDescribers } from '../drying-import/drying-import.describers.js';
import { fieldDescribers } from '../field/field.describers.js';
import { hydrationDescribers } from '../hydration/hydration.describers.js';
import { instrumentDescribers } from '../instrument/instrument.describers.js';
import { labelDescribers } from '../label/label.describers.js';
import { lineDescribers } from '../line/line.describers.js';
import { ovenDescribers } from '../oven/oven.describers.js';
import { passportDescribers } from '../passport/passport.describers.js';
import { placeDescribers } from '../place/place.describers.js';
import { protocolDescribers } from '../protocol/protocol.describers.js';
import { sampleDescribers } from '../sample/sample.describers.js';
import { signatureDescribers } from '../signature/signature.describers.js';
import { storedFileDescribers } from '../stored-file/stored-file.describers.js';
import { tokenDescribers } from '../token/token.describers.js';
import { spectrumDescribers } from '../spectrum/spectrum.describers.js';
import { transferDescribers } from '../transfer/transfer.describers.js';
import { waterDescribers } from '../water/water.describers.js';
import { zoneDescribers } from '../zone/zone.describers.js';
import type { Describers } from './describer.js';

/** How a record of each kind is told. Whoever adds a kind adds it in its module; a test holds this list against the entities. */
export const describers: Describers = {
  ...sampleDescribers,
  ...placeDescribers,
  ...labelDescribers,
  ...instrumentDescribers,
  ...lineDescribers,
  ...protocolDescribers,
  ...hydrationDescribers,
  ...benchDescribers,
  ...ovenDescribers,
  ...dryingImportDescribers,
  ...waterDescribers,
  ...calibrationDescribers,
  ...calibrationScopeDescribers,
  ...transferDescribers,
  ...spectrumDescribers,
  ...shareDescribers,
  ...deviceDescribers,
  ...passportDescribers,
  ...certificateDescribers,
  ...fieldDescribers,
  ...zoneDescribers,
  ...amendmentDescribers,
  ...signatureDescribers,
  ...storedFileDescribers,
  ...tokenDescribers,
};
