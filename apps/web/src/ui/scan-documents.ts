import { graphql } from '../generated/index.js';

export const ScanText = graphql(`
  query ScanText($text: String!) {
    scan(text: $text) { misread found { kind id label code } }
  }
`);
