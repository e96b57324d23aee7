import { useEffect } from 'react';
import { KeptForWhom } from '../../ui/kept-for-whom.js';
import { SignInForm } from './parts/sign-in-form.js';
import styles from './page.module.css';

/** The front door: the thread drawn as a line from a mass to a decision, and two fields. */
export function SignInPage() {
  useEffect(() => {
    document.title = 'Sign in · Threadleaf';
  }, []);
  return (
    <main className={styles.door}>
      <div className={styles.sheet}>
        <header>
          <h1>Threadleaf</h1>
          <p className={styles.lead}>From leaf-disc weighings to a field decision, and back.</p>
        </header>
        <Chain />
        <section aria-label="Sign in">
          <h2>Sign in</h2>
          <KeptForWhom />
          <SignInForm />
        </section>
      </div>
    </main>
  );
}

const steps = ['mass', 'RWC', 'calibration', 'threshold', 'trip', 'decision'] as const;

/** What the program keeps together, as knots on one thread. Told in the lead; here for the eye. */
function Chain() {
  return (
    <ol className={styles.chain} aria-label="The thread">
      {steps.map((step) => <li key={step}><span>{step}</span></li>)}
    </ol>
  );
}
