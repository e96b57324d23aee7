import type { Policies } from './platform/identity/policy.js';
import { amendmentPolicies } from './modules/amendment/amendment.policy.js';
import { benchPolicies } from './modules/bench/bench.policy.js';
import { calibrationPolicies } from './modules/calibration/calibration.policy.js';
import { calibrationScopePolicies } from './modules/calibration-scope/calibration-scope.policy.js';
import { certificatePolicies } from './modules/certificate/certificate.policy.js';
import { devicePolicies } from './modules/device/device.policy.js';
import { dryingImportPolicies } from './modules/drying-import/drying-import.policy.js';
import { duePolicies } from './modules/due/due.policy.js';
import { faultPolicies } from './modules/fault/fault.policy.js';
import { fieldPolicies } from './modules/field/field.policy.js';
import { instrumentPolicies } from './modules/instrument/instrument.policy.js';
import { jobPolicies } from './modules/job/job.policy.js';
import { labPolicies } from './modules/lab/lab.policy.js';
import { labelPolicies } from './modules/label/label.policy.js';
import { ledgerPolicies } from './modules/ledger/ledger.policy.js';
import { linePolicies } from './modules/line/line.policy.js';
import { hydrationPolicies } from './modules/hydration/hydration.policy.js';
import { noticePolicies } from './modules/notice/notice.policy.js';
import { ovenPolicies } from './modules/oven/oven.policy.js';
import { passportPolicies } from './modules/passport/passport.policy.js';
import { placePolicies } from './modules/place/place.policy.js';
import { protocolPolicies } from './modules/protocol/protocol.policy.js';
import { recomputePolicies } from './modules/recompute/recompute.policy.js';
import { samplePolicies } from './modules/sample/sample.policy.js';
import { secondFactorPolicies } from './modules/second-factor/second-factor.policy.js';
import { sharePolicies } from './modules/share/share.policy.js';
import { signaturePolicies } from './modules/signature/signature.policy.js';
import { storedFilePolicies } from './modules/stored-file/stored-file.policy.js';
import { threadPolicies } from './modules/thread/thread.policy.js';
import { spectrumPolicies } from './modules/spectrum/spectrum.policy.js';
import { tidyPolicies } from './modules/tidy/tidy.policy.js';
import { transferPolicies } from './modules/transfer/transfer.policy.js';
import { zonePolicies } from './modules/zone/zone.policy.js';
import { tokenPolicies } from './modules/token/token.policy.js';
import { waterPolicies } from './modules/water/water.policy.js';

/** Who may use which root field. A field that stands nowhere here stops the start. */
export const policies: Policies = {
  ...labPolicies,
  ...secondFactorPolicies,
  ...samplePolicies,
  ...placePolicies,
  ...labelPolicies,
  ...instrumentPolicies,
  ...linePolicies,
  ...hydrationPolicies,
  ...protocolPolicies,
  ...benchPolicies,
  ...ovenPolicies,
  ...waterPolicies,
  ...dryingImportPolicies,
  ...amendmentPolicies,
  ...signaturePolicies,
  ...storedFilePolicies,
  ...calibrationPolicies,
  ...calibrationScopePolicies,
  ...transferPolicies,
  ...tidyPolicies,
  ...spectrumPolicies,
  ...sharePolicies,
  ...devicePolicies,
  ...passportPolicies,
  ...certificatePolicies,
  ...fieldPolicies,
  ...zonePolicies,
  ...threadPolicies,
  ...ledgerPolicies,
  ...recomputePolicies,
  ...faultPolicies,
  ...duePolicies,
  ...noticePolicies,
  ...jobPolicies,
  ...tokenPolicies,
};
