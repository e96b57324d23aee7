-- What an auditor asks the ledger for: pages by kind, and the exceptions among the many masses and readings.

-- The clock of the device on which the id was made (RFC 9562 section 5.7: the first 48 bits of a UUIDv7 are milliseconds
-- since 1970); null for another version of UUID.
CREATE FUNCTION uuid_clock(id uuid) RETURNS timestamptz LANGUAGE sql IMMUTABLE PARALLEL SAFE AS $$
  SELECT CASE WHEN get_byte(uuid_send(id), 6) >> 4 = 7
    THEN timestamptz 'epoch' + (('x' || left(replace(id::text, '-', ''), 12))::bit(48)::bigint) * interval '1 millisecond' END
$$;

CREATE INDEX ledger_entry_kind ON ledger_entry (lab_id, subject_kind, recorded_at DESC, id DESC);
CREATE INDEX weighing_recorded ON weighing (lab_id, recorded_at DESC, id DESC);
CREATE INDEX meter_reading_recorded ON meter_reading (lab_id, recorded_at DESC, id DESC);
