import { MantineProvider } from '@mantine/core';
import { cleanup, render, screen, within } from '@testing-library/react';
import userEvent from '@testing-library/user-event';
import { MemoryRouter } from 'react-router';
import { QueuePanel } from '../src/app/queue-panel.js';
import { OutboxContext } from '../src/offline/outbox.js';
import type { Outbox } from '../src/offline/outbox.js';
import { queueFile } from '../src/offline/queue-file.js';
import type { Kept } from '../src/offline/store.js';
import { corrected } from '../src/offline/writes.js';

/** jsdom draws no dialogue. */
HTMLDialogElement.prototype.showModal ??= function show(this: HTMLDialogElement) { this.open = true; };
HTMLDialogElement.prototype.close ??= function close(this: HTMLDialogElement) { this.open = false; };

const weighing = (order: number, massText: string, more: object = {}): Kept => ({
  kind: 'weighing', order, labId: 'lab', labName: 'Lab', personId: 'ada', personName: 'Ada Moreau', label: `C-${order}, drying, ${massText} mg`, keptAt: '2026-06-03T09:00:00.000Z',
  input: { id: `id ${order}`, discId: 'd', state: 'DRYING', observedAt: '2026-06-03T09:00:00.000Z', massText, massUnit: 'mg', entryMode: 'TYPED', rawLine: massText }, ...more,
} as Kept);

const misread = { code: 'INPUT', field: 'input.massText', message: '“6o.1” is no number.', remedy: 'Give digits.' } as const;
const asking = { code: 'MASS_RISING', severity: 'ASK', message: 'Mass rose from 60 mg to 63 mg.' } as const;
/** As the server says it of an instrument out of check, where the protocol asks and where it does not take it. */
const reasonMissing = { code: 'INSTRUMENT', field: 'overrideReason', message: 'Balance 1 is overdue for its check or calibration.', remedy: 'Check it, or give the reason for using it all the same.' } as const;
const notTaken = { code: 'INSTRUMENT', field: 'balanceId', message: 'Balance 1 failed its last check.', remedy: 'The protocol takes no value of it then: check it, or use another.' } as const;
const answerMissing = { code: 'INPUT', field: 'flagAnswer', message: 'It asks.', remedy: 'Answer.' } as const;

type Act = { readonly act: string; readonly of: number; readonly with?: unknown };

function show(more: Partial<Outbox>): { readonly acts: readonly Act[] } {
  const acts: Act[] = [];
  const outbox: Outbox = {
    waiting: [], aside: [], others: [], onScreen: new Set(), holdOnScreen: () => () => undefined,
    record: async () => ({ outcome: 'kept' }),
    sendAll: async () => void acts.push({ act: 'send all', of: 0 }),
    sendAnew: async (kept, texts) => void acts.push({ act: 'send anew', of: kept.order, with: texts }),
    setAside: async (kept, reason) => void acts.push({ act: 'set aside', of: kept.order, with: reason }),
    takeBack: async (kept) => void acts.push({ act: 'take back', of: kept.order }),
    saved: async (those) => void those.forEach(({ order }) => acts.push({ act: 'saved', of: order })),
    remove: async (kept) => void acts.push({ act: 'remove', of: kept.order }),
    ...more,
  };
  render(<MantineProvider><MemoryRouter><OutboxContext value={outbox}><QueuePanel opened onClose={() => undefined} /></OutboxContext></MemoryRouter></MantineProvider>);
  return { acts };
}

const part = (name: string) => within(screen.getByRole('region', { name, hidden: true }));
const button = (name: string) => screen.getByRole<HTMLButtonElement>('button', { name, hidden: true });

beforeAll(() => {
  URL.createObjectURL = () => 'blob:made';
  HTMLAnchorElement.prototype.click = () => undefined;
});
afterEach(cleanup);

describe('the queue', () => {
  it('lists what waits in order, whose it is, and what others have here without its content', () => {
    show({ waiting: [weighing(1, '70.00'), weighing(2, '68.26')], others: [{ personName: 'Bea Lund', labName: 'Lab', count: 3 }] });
    const lines = part('Waits to be sent').getAllByRole('listitem', { hidden: true }).map(({ textContent }) => textContent);
    expect(lines).toEqual([expect.stringMatching(/1\. .*C-1, drying, 70\.00 mg.*by Ada Moreau/), expect.stringMatching(/2\. .*C-2, drying, 68\.26 mg/)]);
    expect(part('Of others').getByText(/3 writes of Bea Lund for Lab: sent when that person signs in here/)).toBeTruthy();
  });

  it('lets a number that was refused be corrected where it stands, and sends it anew', async () => {
    const { acts } = show({ waiting: [weighing(1, '6o.1', { problem: misread })] });
    const user = userEvent.setup();
    expect(part('Refused').getByText('“6o.1” is no number.')).toBeTruthy();
    const field = screen.getByLabelText<HTMLInputElement>('Mass');
    expect(field.value).toBe('6o.1');
    await user.clear(field);
    expect(button('Send it with this').disabled).toBe(true);
    await user.type(field, ' 60.1 ');
    await user.click(button('Send it with this'));
    expect(acts).toEqual([{ act: 'send anew', of: 1, with: { massText: '60.1' } }]);
  });

  it('sends what asks only with the answer', async () => {
    const { acts } = show({ waiting: [weighing(1, '63.00', { problem: answerMissing, flags: [asking] })] });
    const user = userEvent.setup();
    expect(screen.getByText('Asks: Mass rose from 60 mg to 63 mg.')).toBeTruthy();
    expect(button('Send it with this').disabled).toBe(true);
    await user.type(screen.getByLabelText('Answer to the flags'), 'Same disc, blotted again.');
    await user.click(button('Send it with this'));
    expect(acts).toEqual([{ act: 'send anew', of: 1, with: { flagAnswer: 'Same disc, blotted again.' } }]);
  });

  it('sends a mass of a balance out of check only with the reason, and then with the answer too where that is asked', async () => {
    const user = userEvent.setup();
    const first = show({ waiting: [weighing(1, '63.00', { problem: reasonMissing })] });
    expect(part('Refused').getByText('Balance 1 is overdue for its check or calibration.')).toBeTruthy();
    expect(part('Refused').getByText('Check it, or give the reason for using it all the same.')).toBeTruthy();
    // The mass itself is not what stands against it.
    expect(screen.queryByLabelText('Mass')).toBeNull();
    expect(button('Send it with this').disabled).toBe(true);
    await user.type(screen.getByLabelText('Reason for doing it all the same'), 'Check weight is out for calibration.');
    await user.click(button('Send it with this'));
    expect(first.acts).toEqual([{ act: 'send anew', of: 1, with: { overrideReason: 'Check weight is out for calibration.' } }]);
    cleanup();

    const reasoned = corrected(weighing(1, '63.00'), { overrideReason: 'Check weight is out for calibration.' });
    const second = show({ waiting: [weighing(1, '63.00', { ...reasoned, problem: answerMissing, flags: [asking] })] });
    await user.type(screen.getByLabelText('Answer to the flags'), 'Same disc.');
    await user.click(button('Send it with this'));
    expect(second.acts).toEqual([{ act: 'send anew', of: 1, with: { flagAnswer: 'Same disc.' } }]);
    expect(corrected(reasoned, { flagAnswer: 'Same disc.' }).input).toMatchObject({ massText: '63.00', overrideReason: 'Check weight is out for calibration.', flagAnswer: 'Same disc.' });
  });

  it('offers a mass that the protocol does not take at all to be sent again after a check, or set aside', async () => {
    const { acts } = show({ waiting: [weighing(1, '63.00', { problem: notTaken })] });
    expect(part('Refused').getByText(/The protocol takes no value of it then/)).toBeTruthy();
    expect(screen.queryByRole('textbox', { hidden: true })).toBeNull();
    await userEvent.setup().click(button('Send it again'));
    expect(acts).toEqual([{ act: 'send anew', of: 1, with: {} }]);
  });

  it('sets aside with a reason only, and offers no way to drop it before a file holds it', async () => {
    const { acts } = show({ waiting: [weighing(1, '6o.1', { problem: misread })], aside: [weighing(2, '61.0', { aside: { reason: 'Wrong leaf', at: '2026-06-03T09:05:00.000Z' } })] });
    const user = userEvent.setup();
    await user.click(button('Set it aside'));
    expect(button('Set aside with this reason').disabled).toBe(true);
    await user.type(screen.getByLabelText('Why it is set aside'), 'Weighed the wrong disc');
    await user.click(button('Set aside with this reason'));
    expect(part('Set aside').getByText(/“Wrong leaf”/)).toBeTruthy();
    expect(screen.queryByRole('button', { name: /Remove|Discard|Delete/, hidden: true })).toBeNull();
    await user.click(button('Save all of these as a file'));
    expect(acts).toEqual([{ act: 'set aside', of: 1, with: 'Weighed the wrong disc' }, { act: 'saved', of: 1 }, { act: 'saved', of: 2 }]);
  });

  it('lets what a file holds be removed, or sent after all', async () => {
    const { acts } = show({ aside: [weighing(2, '61.0', { aside: { reason: 'Wrong leaf', at: '2026-06-03T09:05:00.000Z' }, savedAt: '2026-06-03T09:06:00.000Z' })] });
    const user = userEvent.setup();
    await user.click(button('Send it after all'));
    await user.click(button('Remove it, the file holds it'));
    expect(acts.map(({ act }) => act)).toEqual(['take back', 'remove']);
  });
});

it('a file of the queue holds each write as it would be sent, and why it was refused or set aside', () => {
  const { writes } = JSON.parse(queueFile([weighing(1, '6o.1', { problem: misread }), weighing(2, '61.0', { aside: { reason: 'Wrong leaf', at: 'then' } })])) as { writes: readonly Record<string, unknown>[] };
  expect(writes).toMatchObject([
    { kind: 'weighing', label: 'C-1, drying, 6o.1 mg', personName: 'Ada Moreau', refused: { message: '“6o.1” is no number.' }, input: { id: 'id 1', massText: '6o.1' } },
    { setAside: { reason: 'Wrong leaf' }, input: { massText: '61.0' } },
  ]);
});

it('a number corrected by hand is the raw line too, one that an instrument told keeps its raw line', () => {
  expect(corrected(weighing(1, '6o.1'), { massText: '60.1' }).input).toMatchObject({ massText: '60.1', rawLine: '60.1' });
  const heard = weighing(1, '61', {}) as Extract<Kept, { kind: 'weighing' }>;
  expect(corrected({ kind: 'weighing', input: { ...heard.input, entryMode: 'INSTRUMENT' as never, rawLine: 'S   61.00 mg' } }, { massText: '60.1' }).input).toMatchObject({ rawLine: 'S   61.00 mg' });
});
