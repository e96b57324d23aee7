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

export const SeenNotices = graphql(`
  query SeenNotices {
    notices(seen: true) { id kind text subject { kind id label } toldAt seenAt }
  }
`);

export const MarkNoticeSeen = graphql(`
  mutation MarkNoticeSeen($ids: [UUID!]!) {
    markNoticeSeen(ids: $ids) { marked }
  }
`);
