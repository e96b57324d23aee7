-- The ledger as a Merkle tree: places in commit order, stored nodes, signed checkpoints, the lab's keys.

-- Committed entries that have no place yet. A queue, not a record: the sequencer empties it, and finds at its start what
-- is missing here. turn is drawn when an entry is written, so that it tells which of two entries that wait together was
-- written first; which of them was committed first is told by who waits when the sequencer looks.
CREATE TABLE ledger_pending (
  lab_id   uuid NOT NULL,
  turn     bigint GENERATED ALWAYS AS IDENTITY,
  entry_id uuid NOT NULL,
  PRIMARY KEY (lab_id, turn)
);
GRANT SELECT, INSERT, DELETE ON ledger_pending TO threadleaf_app;
ALTER TABLE ledger_pending ENABLE ROW LEVEL SECURITY;
ALTER TABLE ledger_pending FORCE ROW LEVEL SECURITY;
-- A session fenced to no lab sees which labs wait: the sequencer must know, and nobody else is unfenced.
CREATE POLICY of_lab_or_unfenced ON ledger_pending USING (current_lab() IS NULL OR lab_id = current_lab());

CREATE FUNCTION await_place() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  INSERT INTO ledger_pending (lab_id, entry_id) SELECT lab_id, id FROM written;
  RETURN NULL;
END $$;
CREATE TRIGGER entry_awaits_place AFTER INSERT ON ledger_entry
  REFERENCING NEW TABLE AS written FOR EACH STATEMENT EXECUTE FUNCTION await_place();

-- Places count from 0 without a gap. The entry's leaf hash is the node at level 0 of the same index.
CREATE TABLE ledger_place (
  lab_id   uuid NOT NULL REFERENCES lab,
  place    bigint NOT NULL CHECK (place >= 0),
  entry_id uuid NOT NULL,
  PRIMARY KEY (lab_id, place),
  UNIQUE (lab_id, entry_id),
  FOREIGN KEY (lab_id, entry_id) REFERENCES ledger_entry (lab_id, id)
);

-- Hashes of complete subtrees: 2^level leaves, the index-th of its level. A node never changes (RFC 9162 section 2.1).
CREATE TABLE ledger_node (
  lab_id uuid NOT NULL REFERENCES lab,
  level  smallint NOT NULL CHECK (level >= 0),
  index  bigint NOT NULL CHECK (index >= 0),
  hash   bytea NOT NULL CHECK (octet_length(hash) = 32),
  PRIMARY KEY (lab_id, level, index)
);

-- Signed notes over the first size entries (c2sp.org/tlog-checkpoint).
CREATE TABLE ledger_checkpoint (
  lab_id uuid NOT NULL REFERENCES lab,
  size   bigint NOT NULL CHECK (size >= 0),
  note   text NOT NULL,
  PRIMARY KEY (lab_id, size)
);

-- Public keys in the order in which they were used. A key signs from its first size to the first size of the next one;
-- change is the note by which the key before named it.
CREATE TABLE ledger_key (
  lab_id     uuid NOT NULL REFERENCES lab,
  number     integer NOT NULL CHECK (number > 0),
  key        text NOT NULL,
  first_size bigint NOT NULL CHECK (first_size >= 0),
  change     text,
  PRIMARY KEY (lab_id, number),
  CHECK ((number = 1) = (change IS NULL))
);

DO $$
DECLARE kept text;
BEGIN
  FOREACH kept IN ARRAY ARRAY['ledger_place','ledger_node','ledger_checkpoint','ledger_key'] LOOP
    CALL threadleaf_keep(kept::regclass);
  END LOOP;
END $$;
