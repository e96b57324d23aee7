import { graphql } from '../../generated/index.js';

export const CropList = graphql(`
  query CropList {
    crops { id name scientificName }
  }
`);

export const DiscTable = graphql(`
  query DiscTable($first: Int!, $after: String, $search: String, $cropId: UUID) {
    discs(first: $first, after: $after, search: $search, cropId: $cropId) {
      totalCount
      pageInfo { hasNextPage endCursor }
      nodes {
        id
        label
        diameterMm
        leaf { id label growthStage plant { id label cultivar crop { id name } } }
        rwcSeries { id stale }
      }
    }
  }
`);

export const PlantTable = graphql(`
  query PlantTable($first: Int!, $after: String, $search: String) {
    plants(first: $first, after: $after, search: $search) {
      pageInfo { hasNextPage endCursor }
      nodes {
        id
        label
        cultivar
        treatment
        crop { id name }
        leaves { id label position growthStage cutAt discs { id label } }
      }
    }
  }
`);

export const LeafPage = graphql(`
  query LeafPage($id: UUID!) {
    leaf(id: $id) {
      id
      label
      position
      growthStage
      cutAt
      recordedAt
      recordedBy { id displayName }
      plant { id label cultivar treatment crop { id name } }
      discs { id label diameterMm rwcSeries { id stale } }
    }
  }
`);

export const DiscPage = graphql(`
  query DiscPage($id: UUID!) {
    disc(id: $id) {
      id
      label
      diameterMm
      recordedAt
      recordedBy { id displayName }
      contentHash
      leaf { id label position growthStage plant { id label cultivar treatment crop { id name } } }
      weighings { ...WeighingFields }
      rwcSeries {
        id
        codeVersion
        recordedAt
        stale
        turgidMassMg
        uTurgidMassMg
        dryMassMg
        uDryMassMg
        points { weighingId at massMg rwc u uCommon }
        flags { code severity message }
      }
    }
  }
`);

export const RecordCrop = graphql(`
  mutation RecordCrop($input: RecordCropInput!) {
    recordCrop(input: $input) {
      crop { id name scientificName }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const RecordPlant = graphql(`
  mutation RecordPlant($input: RecordPlantInput!) {
    recordPlant(input: $input) {
      plant { id label }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const RecordLeaf = graphql(`
  mutation RecordLeaf($input: RecordLeafInput!) {
    recordLeaf(input: $input) {
      leaf { id label }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const RecordDisc = graphql(`
  mutation RecordDisc($input: RecordDiscInput!) {
    recordDisc(input: $input) {
      disc { id label }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const ComputeRwcSeries = graphql(`
  mutation ComputeRwcSeries($input: ComputeRwcSeriesInput!) {
    computeRwcSeries(input: $input) {
      rwcSeries { id }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const DiscOfSeries = graphql(`
  query DiscOfSeries($id: UUID!) {
    rwcSeries(id: $id) { id disc { id } }
  }
`);
