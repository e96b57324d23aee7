import { Caution } from '../../../ui/words.js';

/** Where a hand comes near a biased unit. */
export function BiasCaution() {
  return (
    <Caution title="Bias of tens of volts.">
      Charge stays in supply and leads after switching off: discharge before touching. Units are spoilt by static: earth yourself. Electrical work belongs to people authorised for it.
    </Caution>
  );
}
