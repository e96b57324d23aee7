import { graphql } from '../../generated/index.js';

export const StandingFields = graphql(`
  fragment StandingFields on ZoneStanding {
    advice
    at
    votes
    installed
    healthy
    reasons
    units { tripped votes silent heardAt remark installation { id zone deviceUnit { id label } } }
  }
`);

export const ZoneRuleFields = graphql(`
  fragment ZoneRuleFields on ZoneRule {
    id
    zone
    version
    state
    latitude
    longitude
    needed
    windows
    hoursAroundNoon
    maxAgeHours
    silentAfterHours
    minHealthy
    lockoutHours
    rainHoldMm
    rainHoldHours
    basis
    recordedAt
    recordedBy { id displayName }
    contentHash
    signatures { ...SignatureFields }
  }
`);

export const ZoneList = graphql(`
  query ZoneList {
    zones { name site installed tripped silent rule { id version } }
  }
`);

export const ZonePage = graphql(`
  query ZonePage($name: String!) {
    zone(name: $name) {
      name
      site
      installed
      tripped
      silent
      rule { id version }
      rules { ...ZoneRuleFields }
      standing { ...StandingFields }
    }
  }
`);

export const ZoneRulePage = graphql(`
  query ZoneRulePage($id: UUID!) {
    zoneRule(id: $id) { ...ZoneRuleFields }
  }
`);

export const ReplayRule = graphql(`
  query ReplayRule($id: UUID!, $from: Moment!, $until: Moment!, $everyMinutes: Int!, $known: KnownBy!) {
    replayZoneRule(zoneRuleId: $id, from: $from, until: $until, everyMinutes: $everyMinutes, known: $known) {
      irrigate
      wait
      look
      none
      changes { advice at votes installed healthy reasons }
      decisions { ...DecisionFields }
    }
  }
`);

export const RuleRisk = graphql(`
  query RuleRisk($id: UUID!, $wetRwc: Float!, $dryRwc: Float!) {
    zoneRuleRisk(zoneRuleId: $id, wetRwc: $wetRwc, dryRwc: $dryRwc) {
      count
      tripRwc
      ownSigma
      sharedSigma
      falseCall
      missedCall
      falseCallIfIndependent
      missedCallIfIndependent
    }
  }
`);

export const AdviceToDecide = graphql(`
  query AdviceToDecide($id: UUID!) {
    zoneAdvice(id: $id) { id zone madeFor stale rule { id version } standing { ...StandingFields } }
  }
`);

export const RecordZoneRule = graphql(`
  mutation RecordZoneRule($input: RecordZoneRuleInput!) {
    recordZoneRule(input: $input) { zoneRule { id } replayed problem { code field message remedy } }
  }
`);

export const AdviseZone = graphql(`
  mutation AdviseZone($input: AdviseZoneInput!) {
    adviseZone(input: $input) { zoneAdvice { id } replayed problem { code field message remedy } }
  }
`);

export const RecordRain = graphql(`
  mutation RecordRain($input: RecordRainInput!) {
    recordRain(input: $input) { rain { id } replayed problem { code field message remedy } }
  }
`);

export const FieldMap = graphql(`
  query FieldMap {
    fieldMarks { installationId unitLabel site zone state silent latitude longitude }
    sitePlans { id site northDeg southDeg westDeg eastDeg file { id url } }
  }
`);

export const RecordSitePlan = graphql(`
  mutation RecordSitePlan($input: RecordSitePlanInput!) {
    recordSitePlan(input: $input) { sitePlan { id } replayed problem { code field message remedy } }
  }
`);

export const AgreementPage = graphql(`
  query AgreementPage($by: AgreementGroup!) {
    fieldAgreement(by: $by) {
      subject { kind id label }
      count
      bias
      biasLow
      biasHigh
      inside
      tail
      verdict
      checks { predictedRwc low high realisedRwc discCount fieldCheck { id observedAt } trip { id installation { id zone deviceUnit { id label } } } }
    }
  }
`);

export const ReportsOfInstallation = graphql(`
  query ReportsOfInstallation($id: UUID!) {
    installation(id: $id) {
      id
      heardAt
      photo { id name url }
      plant { id label }
      ended { id observedAt reason recordedBy { id displayName } }
      resets { id observedAt opened note recordedBy { id displayName } }
      reports { id observedAt latched source lightPowerNw biasReadbackV note recordedBy { id displayName } }
    }
  }
`);

export const RecordDecisionOutcome = graphql(`
  mutation RecordDecisionOutcome($input: RecordDecisionOutcomeInput!) {
    recordDecisionOutcome(input: $input) { decisionOutcome { id } replayed problem { code field message remedy } }
  }
`);
