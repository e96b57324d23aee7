import { graphql } from '../../generated/index.js';

export const DueList = graphql(`
  query DueList($until: Moment) {
    due(until: $until) {
      kind
      what
      dueAt
      subject { kind id label }
      mine
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

export const CalendarFeed = graphql(`
  query CalendarFeed {
    calendarFeedMadeAt
  }
`);

export const RenewCalendarFeed = graphql(`
  mutation RenewCalendarFeed {
    renewCalendarFeed { path madeAt }
  }
`);

export const EndCalendarFeed = graphql(`
  mutation EndCalendarFeed {
    endCalendarFeed { path madeAt }
  }
`);
