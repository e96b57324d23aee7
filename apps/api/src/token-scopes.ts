import type { TokenScopes } from './platform/identity/token-scopes.js';
import { benchTokenScopes } from './modules/bench/bench.policy.js';
import { calibrationTokenScopes } from './modules/calibration/calibration.policy.js';
import { certificateTokenScopes } from './modules/certificate/certificate.policy.js';
import { deviceTokenScopes } from './modules/device/device.policy.js';
import { dryingImportTokenScopes } from './modules/drying-import/drying-import.policy.js';
import { dueTokenScopes } from './modules/due/due.policy.js';
import { faultTokenScopes } from './modules/fault/fault.policy.js';
import { fieldTokenScopes } from './modules/field/field.policy.js';
import { instrumentTokenScopes } from './modules/instrument/instrument.policy.js';
import { labTokenScopes } from './modules/lab/lab.policy.js';
import { labelTokenScopes } from './modules/label/label.policy.js';
import { ledgerTokenScopes } from './modules/ledger/ledger.policy.js';
import { lineTokenScopes } from './modules/line/line.policy.js';
import { hydrationTokenScopes } from './modules/hydration/hydration.policy.js';
import { ovenTokenScopes } from './modules/oven/oven.policy.js';
import { placeTokenScopes } from './modules/place/place.policy.js';
import { passportTokenScopes } from './modules/passport/passport.policy.js';
import { recomputeTokenScopes } from './modules/recompute/recompute.policy.js';
import { sampleTokenScopes } from './modules/sample/sample.policy.js';
import { jobTokenScopes } from './modules/job/job.policy.js';
import { calibrationScopeTokenScopes } from './modules/calibration-scope/calibration-scope.policy.js';
import { shareTokenScopes } from './modules/share/share.policy.js';
import { storedFileTokenScopes } from './modules/stored-file/stored-file.policy.js';
import { threadTokenScopes } from './modules/thread/thread.policy.js';
import { spectrumTokenScopes } from './modules/spectrum/spectrum.policy.js';
import { tidyTokenScopes } from './modules/tidy/tidy.policy.js';
import { transferTokenScopes } from './modules/transfer/transfer.policy.js';
import { tokenTokenScopes } from './modules/token/token.policy.js';
import { waterTokenScopes } from './modules/water/water.policy.js';
import { zoneTokenScopes } from './modules/zone/zone.policy.js';

/** What an access token reaches, by its scopes. A field that stands nowhere here is reached by none: deny by default. */
export const tokenScopes: TokenScopes = {
  ...labTokenScopes,
  ...tokenTokenScopes,
  ...storedFileTokenScopes,
  ...sampleTokenScopes,
  ...placeTokenScopes,
  ...labelTokenScopes,
  ...instrumentTokenScopes,
  ...lineTokenScopes,
  ...hydrationTokenScopes,
  ...benchTokenScopes,
  ...ovenTokenScopes,
  ...waterTokenScopes,
  ...dryingImportTokenScopes,
  ...calibrationTokenScopes,
  ...transferTokenScopes,
  ...tidyTokenScopes,
  ...spectrumTokenScopes,
  ...calibrationScopeTokenScopes,
  ...jobTokenScopes,
  ...shareTokenScopes,
  ...deviceTokenScopes,
  ...passportTokenScopes,
  ...certificateTokenScopes,
  ...fieldTokenScopes,
  ...zoneTokenScopes,
  ...threadTokenScopes,
  ...ledgerTokenScopes,
  ...recomputeTokenScopes,
  ...faultTokenScopes,
  ...dueTokenScopes,
};
