import { Caution } from '../../../ui/words.js';

/** At every place where somebody opens the oven. */
export function OvenCaution() {
  return (
    <Caution title="Oven.">
      Trays, walls and discs burn: wear heat-proof gloves when you load and unload. Put in nothing wet with solvent or that can burn; keep the vent open; put a label on it when it dries unattended. A desiccator under vacuum can implode: look it over, guard it, let air in slowly.
    </Caution>
  );
}
