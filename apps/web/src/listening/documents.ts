import { graphql } from '../generated/index.js';

export const LineHeard = graphql(`
  subscription LineHeard($instrumentId: UUID!) {
    lineHeard(instrumentId: $instrumentId) { id rawLine heardAt throughToken }
  }
`);

/** All that is needed to read an instrument's lines, and to open its serial line. */
export const LineFormatFields = graphql(`
  fragment LineFormatFields on LineFormat {
    id
    pattern
    stableMarks
    movingMarks
    netMarks
    grossMarks
    decimalMark
    unit
    unitWords { written unit }
    unitOnlyWhenStable
    baudRate
    dataBits
    parity
    stopBits
    terminator
  }
`);
