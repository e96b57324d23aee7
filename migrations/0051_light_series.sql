-- Light references: the series they were measured as, the days known, the hours a unit is armed, and what an assumed spread is made of.

ALTER TABLE light_reference ADD COLUMN series jsonb;
ALTER TABLE light_reference ADD COLUMN days integer CHECK (days > 0);
ALTER TABLE light_reference ADD COLUMN armed_from_min smallint CHECK (armed_from_min BETWEEN 0 AND 1440);
ALTER TABLE light_reference ADD COLUMN armed_until_min smallint CHECK (armed_until_min BETWEEN 0 AND 1440);
ALTER TABLE light_reference ADD COLUMN latitude numeric CHECK (latitude BETWEEN -90 AND 90);
ALTER TABLE light_reference ADD COLUMN longitude numeric CHECK (longitude BETWEEN -180 AND 180);
ALTER TABLE light_reference ADD COLUMN band_centre_nm numeric CHECK (band_centre_nm > 0);
ALTER TABLE light_reference ADD COLUMN band_width_nm numeric CHECK (band_width_nm > 0);
ALTER TABLE light_reference ADD COLUMN tilt_deg numeric CHECK (tilt_deg BETWEEN 0 AND 90);
ALTER TABLE light_reference ADD COLUMN diffuser text;
ALTER TABLE light_reference ADD COLUMN meter_id uuid;
ALTER TABLE light_reference ADD FOREIGN KEY (lab_id, meter_id) REFERENCES instrument (lab_id, id);
ALTER TABLE light_reference ADD COLUMN spread_parts jsonb;
