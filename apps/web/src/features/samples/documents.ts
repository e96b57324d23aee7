import { graphql } from '../../generated/index.js';

export const CropList = graphql(`
  query CropList {
    crops { id name scientificName }
  }
`);

export const DiscTable = graphql(`
  query DiscTable($first: Int!, $after: String, $search: String, $cropId: UUID, $filter: DiscFilter, $sort: DiscSort!, $descending: Boolean!) {
    discs(first: $first, after: $after, search: $search, cropId: $cropId, filter: $filter, sort: $sort, descending: $descending) {
      totalCount
      pageInfo { hasNextPage endCursor }
      nodes {
        id
        label
        diameterMm
        loss { id outcome }
        leaf { id label growthStage cutAt plant { id label cultivar treatment crop { id name } } }
        rwcSeries { id stale }
        custody { id place { id label } recordedBy { id displayName } }
      }
    }
  }
`);

export const WordsOfSamples = graphql(`
  query WordsOfSamples {
    sampleWords { cultivars treatments growthStages }
  }
`);

export const PreviewSamples = graphql(`
  query PreviewSamples($input: RecordSamplesInput!) {
    previewSamples(input: $input) {
      plants leaves discs plantCount leafCount discCount taken
      problem { code field message remedy }
    }
  }
`);

export const RecordSamples = graphql(`
  mutation RecordSamples($input: RecordSamplesInput!) {
    recordSamples(input: $input) {
      plants { id label }
      leaves { id label }
      discs { id label }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const AmendSample = graphql(`
  mutation AmendSample($input: AmendSampleInput!) {
    amendSample(input: $input) {
      sampleAmendment { id }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const RecordSampleLoss = graphql(`
  mutation RecordSampleLoss($input: RecordSampleLossInput!) {
    recordSampleLoss(input: $input) {
      sampleLosses { id }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const RetractFact = graphql(`
  mutation RetractFact($input: RetractInput!) {
    retract(input: $input) {
      amendment { id }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const PlaceTree = graphql(`
  query PlaceTree {
    places { id label placeKind path sampleCount inside { id } }
  }
`);

export const PlacePage = graphql(`
  query PlacePage($id: UUID!) {
    place(id: $id) {
      id
      label
      placeKind
      note
      code
      path
      recordedAt
      recordedBy { id displayName }
      inside { id label }
      samples { id movedAt subject { kind id label } recordedBy { id displayName } }
    }
  }
`);

export const RecordPlace = graphql(`
  mutation RecordPlace($input: RecordPlaceInput!) {
    recordPlace(input: $input) {
      place { id }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const RecordCustody = graphql(`
  mutation RecordCustody($input: RecordCustodyInput!) {
    recordCustody(input: $input) {
      custodies { id }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const CustodyList = graphql(`
  query CustodyList($subjectId: UUID!) {
    custodies(subjectId: $subjectId) {
      id
      movedAt
      note
      place { id label path }
      recordedBy { id displayName }
      amendment { id reason }
    }
  }
`);

export const LabelsOf = graphql(`
  query LabelsOf($subjectIds: [UUID!]!) {
    labelPrintCounts(subjectIds: $subjectIds)
  }
`);

export const PrintLabels = graphql(`
  mutation PrintLabels($input: PrintLabelsInput!) {
    printLabels(input: $input) {
      labelPrint { id count pages pdfUrl svgUrl pngUrl }
      replayed
      problem { code field message remedy }
    }
  }
`);

export const LabelPrints = graphql(`
  query LabelPrints($subjectId: UUID) {
    labelPrints(first: 20, subjectId: $subjectId) {
      id recordedAt subjectKind count pages symbology reason pdfUrl svgUrl pngUrl
      recordedBy { id displayName }
    }
  }
`);

export const PlantPage = graphql(`
  query PlantPage($id: UUID!) {
    plant(id: $id) {
      id
      label
      code
      cultivar
      treatment
      crop { id name }
      mother { id label }
      loss { ...SampleLossFields }
      amendments { ...SampleAmendmentFields }
      custody { ...CustodyFields }
      recordedAt
      recordedBy { id displayName }
      leaves { id label position growthStage cutAt discs { id label } }
    }
  }
`);

export const SampleLossFields = graphql(`
  fragment SampleLossFields on SampleLoss {
    id outcome noticedAt reason
    recordedBy { id displayName }
  }
`);

export const SampleAmendmentFields = graphql(`
  fragment SampleAmendmentFields on SampleAmendment {
    id recordedAt reason
    changes { field was becomes }
    recordedBy { id displayName }
  }
`);

export const CustodyFields = graphql(`
  fragment CustodyFields on Custody {
    id movedAt
    place { id label path }
    recordedBy { id displayName }
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
      code
      position
      growthStage
      cutAt
      photo { id name url mediaType }
      loss { ...SampleLossFields }
      amendments { ...SampleAmendmentFields }
      custody { ...CustodyFields }
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
      code
      diameterMm
      position
      leafSide
      punchedAt
      loss { ...SampleLossFields }
      amendments { ...SampleAmendmentFields }
      custody { ...CustodyFields }
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
