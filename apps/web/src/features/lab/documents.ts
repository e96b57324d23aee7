import { graphql } from '../../generated/index.js';

export const PeopleTable = graphql(`
  query PeopleTable {
    people { person { id displayName } email roles }
  }
`);

export const AddMember = graphql(`
  mutation AddMember($input: AddMemberInput!) {
    addMember(input: $input) {
      member { person { id displayName } email roles }
      problem { code field message remedy }
    }
  }
`);

export const ChangePassword = graphql(`
  mutation ChangePassword($current: String!, $next: String!) {
    changePassword(current: $current, next: $next) {
      changed
      problem { code field message remedy }
    }
  }
`);

export const StartSecondFactor = graphql(`
  mutation StartSecondFactor($password: String!) {
    startSecondFactor(password: $password) {
      secret
      squareCode
      problem { code field message remedy }
    }
  }
`);

export const ConfirmSecondFactor = graphql(`
  mutation ConfirmSecondFactor($code: String!) {
    confirmSecondFactor(code: $code) {
      recoveryCodes
      problem { code field message remedy }
    }
  }
`);

export const RemoveSecondFactor = graphql(`
  mutation RemoveSecondFactor($password: String!, $code: String!) {
    removeSecondFactor(password: $password, code: $code) {
      removed
      problem { code field message remedy }
    }
  }
`);

export const AccessTokenList = graphql(`
  query AccessTokenList {
    accessTokens { id label scopes expiresAt revokedAt stands recordedBy { id displayName } revokedBy { id displayName } }
  }
`);

export const CreateAccessToken = graphql(`
  mutation CreateAccessToken($input: CreateAccessTokenInput!) {
    createAccessToken(input: $input) {
      secret
      replayed
      problem { code field message remedy }
    }
  }
`);

export const RevokeAccessToken = graphql(`
  mutation RevokeAccessToken($input: RevokeAccessTokenInput!) {
    revokeAccessToken(input: $input) {
      replayed
      problem { code field message remedy }
    }
  }
`);
