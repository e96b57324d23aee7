import { graphql } from '../generated/index.js';

export const MeFields = graphql(`
  fragment MeFields on Me {
    email
    roles
    person { id displayName }
    lab { id name }
    labs { id name }
    secondFactor { set recoveryCodesLeft }
  }
`);

export const WhoIsSignedIn = graphql(`
  query WhoIsSignedIn {
    me { ...MeFields }
  }
`);

export const AboutServer = graphql(`
  query AboutServer {
    about { codeVersion demo }
  }
`);

export const SignIn = graphql(`
  mutation SignIn($email: String!, $password: String!, $code: String) {
    signIn(email: $email, password: $password, code: $code) {
      me { ...MeFields }
      problem { code field message remedy }
    }
  }
`);

export const SignOut = graphql(`
  mutation SignOut { signOut }
`);

export const EnterLab = graphql(`
  mutation EnterLab($labId: UUID!) {
    enterLab(labId: $labId) {
      me { ...MeFields }
      problem { code field message remedy }
    }
  }
`);

export const RecordedInLab = graphql(`
  subscription RecordedInLab {
    recorded { kind id dryingRunId }
  }
`);

export const UnseenNotices = graphql(`
  query UnseenNotices {
    notices { id kind text subject { kind id label } toldAt }
  }
`);
