import { type Describers } from '../thread/describer.js';

const audience = `CASE r.audience WHEN 'EVERY_LAB' THEN 'every lab of the server' ELSE (SELECT string_agg(l.name, ', ' ORDER BY l.name) FROM lab l WHERE l.id = ANY(r.lab_ids)) END`;

export const shareDescribers: Describers = {
  calibration_share: {
    label: "'share of ' || (r.document->>'label') || ' version ' || (r.document->>'version')",
    summary: `CASE r.depth WHEN 'RAW' THEN 'down to the raw lines' ELSE 'as a summary' END || CASE r.permits WHEN 'REUSE' THEN ', to be reused' ELSE ', to be read' END
      || ', licence: ' || r.licence || ', cited as: ' || r.citation`,
  },
  share_grant: {
    label: "'grant to ' || " + audience,
    summary: `'share of ' || (share.document->>'label') || ' version ' || (share.document->>'version') || coalesce(', until ' || to_char(r.until AT TIME ZONE 'UTC', 'YYYY-MM-DD'), ', without an end')`,
    joins: 'JOIN calibration_share share ON share.lab_id = $1 AND share.id = r.share_id',
  },
  share_grant_withdrawal: { label: "'end of the grant to ' || " + audience, summary: 'r.reason' },
  calibration_comment: {
    label: "CASE WHEN r.answers_id IS NOT NULL THEN 'answer' WHEN r.question THEN 'question' ELSE 'comment' END || ' on a calibration version'",
    summary: 'r.comment_text',
  },
  calibration_adoption: {
    label: "'taken over from ' || r.origin_lab || ': ' || (r.document->>'label') || ' version ' || (r.document->>'version')",
    summary: `CASE r.depth WHEN 'RAW' THEN 'with its raw lines' ELSE 'as a summary' END || CASE r.source WHEN 'FILE' THEN ', from a file; key compared with ' || r.key_compared_with ELSE ', shared on this server' END
      || ', licence: ' || r.licence || ', cited as: ' || r.citation || ': ' || r.reason`,
  },
};
