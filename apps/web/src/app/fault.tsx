import { Component } from 'react';
import type { ReactNode } from 'react';
import { Action, Notice } from '../ui/words.js';

interface FaultProps { readonly children: ReactNode }
interface FaultState { readonly failed: boolean }

/** A screen that breaks says so and leaves the ribbon usable. React offers this only to classes. */
export class Fault extends Component<FaultProps, FaultState> {
  override state: FaultState = { failed: false };

  static getDerivedStateFromError(): FaultState {
    return { failed: true };
  }

  override render(): ReactNode {
    if (!this.state.failed) return this.props.children;
    return (
      <div style={{ padding: '2rem 1.5rem' }}>
        <h1>This screen broke</h1>
        <Notice tone="alarm" title="The program made a mistake while drawing it.">
          <p>What the server recorded is safe. Load the page again; if it breaks again, tell whoever runs the server what you did last.</p>
          <p><Action kind="plain" onClick={() => location.reload()}>Load again</Action></p>
        </Notice>
      </div>
    );
  }
}
