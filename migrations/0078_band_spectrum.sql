-- An absorption band read from a recorded spectrum, of one unit or of a lot as measured on a witness of it.
ALTER TABLE absorption_band ADD COLUMN spectrum_id uuid;
ALTER TABLE absorption_band ADD FOREIGN KEY (lab_id, spectrum_id) REFERENCES spectrum (lab_id, id);
ALTER TABLE absorption_band ADD COLUMN device_lot_id uuid;
ALTER TABLE absorption_band ADD FOREIGN KEY (lab_id, device_lot_id) REFERENCES device_lot (lab_id, id);
ALTER TABLE absorption_band ALTER COLUMN device_unit_id DROP NOT NULL;
ALTER TABLE absorption_band ADD CONSTRAINT absorption_band_of_one CHECK (num_nonnulls(device_unit_id, device_lot_id) = 1);
CREATE INDEX absorption_band_lot ON absorption_band (lab_id, device_lot_id, observed_at) WHERE device_lot_id IS NOT NULL;
