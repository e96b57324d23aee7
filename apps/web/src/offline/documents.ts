import { graphql } from '../generated/index.js';

/** The writes that are kept until they are sent. They stand here, not with a screen, because the outbox sends them after a reload too. */
export const RecordWeighing = graphql(`
  mutation RecordWeighing($input: RecordWeighingInput!) {
    recordWeighing(input: $input) {
      weighing { id }
      replayed
      problem { code field message remedy }
      flags { code severity message }
    }
  }
`);

export const RecordMeterReading = graphql(`
  mutation RecordMeterReading($input: RecordMeterReadingInput!) {
    recordMeterReading(input: $input) {
      meterReading { id }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const RecordInstallation = graphql(`
  mutation RecordInstallation($input: RecordInstallationInput!) {
    recordInstallation(input: $input) {
      installation { id }
      replayed
      problem { code field message remedy }
      objections { code severity message }
    }
  }
`);

export const RecordTrip = graphql(`
  mutation RecordTrip($input: RecordTripInput!) {
    recordTrip(input: $input) { trip { id } replayed problem { code field message remedy } }
  }
`);

export const RecordReports = graphql(`
  mutation RecordReports($inputs: [RecordFieldReportInput!]!) {
    recordFieldReports(inputs: $inputs) { fieldReport { id } replayed problem { code field message remedy } }
  }
`);

export const RecordLatchReset = graphql(`
  mutation RecordLatchReset($input: RecordLatchResetInput!) {
    recordLatchReset(input: $input) { latchReset { id } replayed problem { code field message remedy } }
  }
`);

export const EndInstallation = graphql(`
  mutation EndInstallation($input: EndInstallationInput!) {
    endInstallation(input: $input) { installationEnd { id } replayed problem { code field message remedy } }
  }
`);

export const RecordFieldCheck = graphql(`
  mutation RecordFieldCheck($input: RecordFieldCheckInput!) {
    recordFieldCheck(input: $input) { fieldCheck { id } replayed problem { code field message remedy } }
  }
`);

export const MeasureClock = graphql(`
  query MeasureClock {
    about { serverTime }
  }
`);
