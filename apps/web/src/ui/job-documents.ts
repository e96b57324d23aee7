import { graphql } from '../generated/index.js';

/** A job as a line shows it. */
export const JobFields = graphql(`
  fragment JobFields on Job {
    id
    name
    label
    state
    progress
    sentence
    startedBy { id displayName }
    result { kind id label }
    outcome
    error
    remedy
    queuedAt
    beganAt
    endedAt
  }
`);

export const JobWatched = graphql(`
  query JobWatched($id: UUID!) { job(id: $id) { ...JobFields } }
`);

export const CancelJob = graphql(`
  mutation CancelJob($id: UUID!) { cancelJob(id: $id) { job { ...JobFields } problem { code field message remedy } } }
`);

export const RetryJob = graphql(`
  mutation RetryJob($id: UUID!) { retryJob(id: $id) { job { ...JobFields } problem { code field message remedy } } }
`);
