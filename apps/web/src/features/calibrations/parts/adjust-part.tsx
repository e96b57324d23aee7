import { useQuery } from '@apollo/client/react';
import { useNavigate } from 'react-router';
import { useHasRole } from '../../../app/session.js';
import { EntryForm, useEntry } from '../../../ui/entry.js';
import { ChoiceField } from '../../../ui/fields.js';
import { Section } from '../../../ui/page.js';
import { usePayload } from '../../../ui/send.js';
import type { TransferVerdictSeen } from '../../../ui/state.js';
import { ActionLink, Empty } from '../../../ui/words.js';
import { CropCalibrations } from '../documents.js';
import { AdjustCalibration } from '../transfer-documents.js';
import type { TransferStudySeen } from './seen.js';

const initial = { calibrationId: '' };

/** What may be made of a study that holds: a draft with the height of own leaves. */
export function AdjustPart({ study, verdict, again }: { readonly study: TransferStudySeen; readonly verdict: TransferVerdictSeen; readonly again: () => void }) {
  const mayAdjust = useHasRole('RESEARCHER', 'MANAGER');
  const send = usePayload();
  const navigate = useNavigate();
  const { data } = useQuery(CropCalibrations, { variables: { cropId: study.crop.id } });
  const entry = useEntry({
    initial,
    send: ({ calibrationId }, id) => send(AdjustCalibration, { input: { id, calibrationId, transferStudyId: study.id } }),
    onRecorded: ({ calibrationVersion }) => {
      again();
      if (calibrationVersion) navigate(`/calibrations/version/${calibrationVersion.id}`);
    },
  });
  if (!mayAdjust) return null;
  const holds = verdict === 'HOLDS' || verdict === 'HOLDS_WITH_OFFSET';
  const calibrations = data?.calibrations ?? [];
  return (
    <Section title="Adjust it to own leaves" lead={holds ? 'A new draft version: slope and spread of leaves from both, height from own leaves alone. It is reviewed and approved as any other, and its thread names both parents.' : null}>
      {!holds ? <Empty title={verdict === 'DOES_NOT_HOLD' ? 'Nothing to adjust: own leaves answer otherwise.' : 'Not yet: the study does not say whether it holds.'}>
        <p>{verdict === 'DOES_NOT_HOLD' ? 'Fit a calibration from own leaves.' : 'Measure the leaves it asks for, and study again.'}</p>
      </Empty>
        : calibrations.length === 0 ? <Empty title={`There is no calibration of ${study.crop.name} to add it to.`}><ActionLink to="/calibrations">Begin one</ActionLink></Empty> : (
          <EntryForm entry={entry} action="Make the adjusted draft" label="Adjust the calibration" disabled={entry.values.calibrationId === ''}>
            <ChoiceField {...entry.field('calibrationId')} label={`Calibration of ${study.crop.name} to add it to`} none="Choose a calibration" choices={calibrations.map(({ id, label }) => ({ value: id, label }))} />
          </EntryForm>
        )}
    </Section>
  );
}
