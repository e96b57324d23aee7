import { graphql } from '../../generated/index.js';

export const ImportChoices = graphql(`
  query ImportChoices {
    crops { id name }
    dryingImportMappings {
      delimiter
      decimalComma
      massUnit
      discColumn
      timeColumn
      timeUnit
      utcOffset
      massColumn
      turgidMassColumn
      dryMassColumn
      usedAt
      fileName
    }
  }
`);

export const PreviewDryingImport = graphql(`
  mutation PreviewDryingImport($input: DryingImportInput!) {
    previewDryingImport(input: $input) {
      delimiter
      columns
      rowCount
      discCount
      rows { line disc at massMg rwc }
      errors { line column message remedy }
      flags { line flag { code severity message } }
      alreadyImported
      problem { code field message remedy }
    }
  }
`);

export const ImportDryingSeries = graphql(`
  mutation ImportDryingSeries($input: DryingImportInput!) {
    importDryingSeries(input: $input) {
      importId
      discCount
      weighingCount
      alreadyImported
      rwcSeries { id disc { id label } points { rwc } }
      errors { line column message remedy }
      problem { code field message remedy }
    }
  }
`);
