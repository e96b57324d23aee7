import { Link } from 'react-router';
import { Page, Strip } from './page.js';
import { Empty } from './words.js';

/** For an address that leads to no screen, in the whole and within each word of the ribbon. */
export function Nowhere() {
  return (
    <Page title="No such page">
      <Strip><Empty title="This address leads to no screen."><Link to="/due">Go to what is due</Link></Empty></Strip>
    </Page>
  );
}
