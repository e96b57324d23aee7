import { useQuery } from '@apollo/client/react';
import { useState } from 'react';
import { useNavigate } from 'react-router';
import { EntryForm, useEntry } from '../../../ui/entry.js';
import { ChoiceField, TextField } from '../../../ui/fields.js';
import { newId } from '../../../ui/id.js';
import { usePayload } from '../../../ui/send.js';
import { Failed, Waiting } from '../../../ui/words.js';
import { AdoptCalibration, AdoptChoices, ImportCalibration } from '../shared-documents.js';

const empty = { calibrationId: '', rigId: '', keyComparedWith: '', reason: '' };

/** Into which calibration a version of another lab is taken over, for which rig, and why it may hold here. */
export function TakeOverForm({ from, onCancel }: { readonly from: { readonly shareId: string } | { readonly storedFileId: string }; readonly onCancel?: () => void }) {
  const send = usePayload();
  const navigate = useNavigate();
  const [versionId] = useState(newId);
  const { data, error, refetch } = useQuery(AdoptChoices);
  const entry = useEntry({
    initial: empty,
    send: ({ keyComparedWith, ...values }, id) => ('shareId' in from
      ? send(AdoptCalibration, { input: { id, versionId, shareId: from.shareId, ...values } })
      : send(ImportCalibration, { input: { id, versionId, storedFileId: from.storedFileId, keyComparedWith, ...values } })),
    onRecorded: ({ calibrationVersion }) => void (calibrationVersion && navigate(`/calibrations/version/${calibrationVersion.id}`)),
  });
  if (!data) return error ? <Failed what="the calibrations and rigs" again={() => void refetch()} /> : <Waiting what="calibrations and rigs" />;
  const rigs = data.rigs.map(({ id, label, version, bandCentreNm, bandWidthNm }) => ({ value: id, label: `${label}, version ${version}, ${Number(bandCentreNm)} nm ± ${Number(bandWidthNm) / 2} nm` }));
  return (
    <EntryForm entry={entry} action="Take it over" label="Take it over" {...(onCancel && { onCancel })} disabled={data.calibrations.length === 0 || rigs.length === 0}>
      <ChoiceField {...entry.field('calibrationId')} label="Calibration of yours" hint="It becomes the next version there, and serves that crop" choices={data.calibrations.map(({ id, label, crop }) => ({ value: id, label: `${label} (${crop.name})` }))} none="Choose a calibration" />
      <ChoiceField {...entry.field('rigId')} label="Rig of yours" hint="On which it shall hold" choices={rigs} none="Choose a rig" />
      {'storedFileId' in from ? <TextField {...entry.field('keyComparedWith')} label="Key compared with" hint="With what you compared the key above: the lab’s page, a letter, a call" wide /> : null}
      <TextField {...entry.field('reason')} label="Reason" hint="What it is for, and why it may hold here" wide />
    </EntryForm>
  );
}
