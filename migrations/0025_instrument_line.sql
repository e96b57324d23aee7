-- What instruments say by themselves: how each writes a line, and the lines that bench computers heard.

CREATE TABLE line_format (
  lab_id                 uuid NOT NULL REFERENCES lab,
  id                     uuid NOT NULL,
  recorded_at            timestamptz(3) NOT NULL,
  recorded_by            uuid NOT NULL REFERENCES account,
  content_hash           bytea NOT NULL,
  instrument_id          uuid NOT NULL,
  pattern                text NOT NULL CHECK (pattern <> ''),
  stable_marks           text[] NOT NULL,
  moving_marks           text[] NOT NULL,
  net_marks              text[] NOT NULL,
  gross_marks            text[] NOT NULL,
  decimal_mark           text NOT NULL CHECK (decimal_mark IN ('POINT','COMMA','EITHER')),
  unit                   text NOT NULL,
  unit_words             jsonb NOT NULL,
  unit_only_when_stable  boolean NOT NULL,
  baud_rate              integer NOT NULL CHECK (baud_rate BETWEEN 50 AND 1000000),
  data_bits              smallint NOT NULL CHECK (data_bits IN (7, 8)),
  parity                 text NOT NULL CHECK (parity IN ('NONE','EVEN','ODD')),
  stop_bits              smallint NOT NULL CHECK (stop_bits IN (1, 2)),
  terminator             text NOT NULL CHECK (terminator IN ('CRLF','CR','LF')),
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, instrument_id) REFERENCES instrument (lab_id, id)
);
CREATE INDEX line_format_instrument ON line_format (lab_id, instrument_id, id DESC);
CALL threadleaf_keep('line_format');

-- Lines that wait for a person's hand. No record: what is taken stands in the weighing or reading, letter by letter, and what
-- nobody takes is nothing that was observed of a disc. The server clears what is older than a day.
CREATE TABLE heard_line (
  lab_id        uuid NOT NULL REFERENCES lab,
  id            uuid NOT NULL,
  instrument_id uuid NOT NULL,
  raw_line      text NOT NULL,
  value_text    text NOT NULL,
  decimal       numeric NOT NULL,
  unit          text NOT NULL,
  load          text CHECK (load IN ('NET','GROSS')),
  heard_at      timestamptz(3) NOT NULL,
  received_at   timestamptz(3) NOT NULL DEFAULT now(),
  told_by       uuid NOT NULL REFERENCES account,
  token_id      uuid,
  PRIMARY KEY (lab_id, id),
  FOREIGN KEY (lab_id, instrument_id) REFERENCES instrument (lab_id, id)
);
CREATE INDEX heard_line_instrument ON heard_line (lab_id, instrument_id, received_at DESC, id DESC);
GRANT SELECT, INSERT, DELETE ON heard_line TO threadleaf_app;
ALTER TABLE heard_line ENABLE ROW LEVEL SECURITY;
ALTER TABLE heard_line FORCE ROW LEVEL SECURITY;
CREATE POLICY of_lab ON heard_line USING (lab_id = current_lab()) WITH CHECK (lab_id = current_lab());
