-- Every family that the library fits may be frozen as a version.
ALTER TABLE calibration_version DROP CONSTRAINT calibration_version_family_check;
ALTER TABLE calibration_version ADD CONSTRAINT calibration_version_family_check CHECK (family IN ('LOG_LINEAR','LINEAR','EXPONENTIAL','POWER','LOGISTIC'));
