import { graphql } from '../../generated/index.js';

export const DueList = graphql(`
  query DueList($until: Moment) {
    due(until: $until) {
      kind
      what
      dueAt
      subject { kind id label }
      roles
    }
  }
`);
