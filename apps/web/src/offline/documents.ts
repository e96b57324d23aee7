import { graphql } from '../generated/index.js';

/** The writes of the bench. They stand here, not with a screen, because the outbox sends them after a reload too. */
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

export const MeasureClock = graphql(`
  query MeasureClock {
    about { serverTime }
  }
`);
