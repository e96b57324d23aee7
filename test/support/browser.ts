import { mkdirSync, readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { chromium, type Browser, type BrowserContext, type Locator, type Page } from 'playwright-core';
import type { Role } from '../../apps/api/src/generated/schema.js';
import { packageRoot } from '../../apps/api/src/platform/config/package-root.js';
import { PASSWORD, startTestServer, type TestLab, type TestServer } from './lab.js';

export type { Locator, Page } from 'playwright-core';

export interface Size {
  readonly width: number;
  readonly height: number;
}

export const DESK: Size = { width: 1280, height: 900 };
export const PHONE: Size = { width: 390, height: 844 };

/** The API and the built pages on one port, a lab with one person of each role, and a Chromium. */
export interface Stage {
  readonly server: TestServer;
  readonly lab: TestLab;
  /** A window with cookies and storage of its own, at the sign-in. `clock` sets where its clock starts. */
  open(size?: Size, clock?: Date): Promise<Page>;
  /**
   * A window whose pages open without the server too, by their service worker; the others have none, it would cost each test
   * its files. Its console may tell of requests that fail.
   *
   * @param url  where the server is reached, when not directly
   */
  openOffline(url: string, size?: Size): Promise<Page>;
  /** A window of a person who has signed in through the form. */
  signedIn(role: Role, size?: Size, clock?: Date): Promise<Page>;
  close(): Promise<void>;
}

interface Window {
  readonly context: BrowserContext;
  readonly complaints: string[];
  /** What its console may say, because the test brought it about. */
  forgiven: RegExp | null;
}

/** The windows of this test file: a module of its own in each. */
const windows: Window[] = [];

/** This machine may be busy with other work; a page that hangs still ends. */
const PATIENCE_MS = 30_000;

/** @param webDir  another folder of built pages than the usual one */
export async function openStage(labName: string, webDir?: string): Promise<Stage> {
  const server = await startTestServer(webDir);
  const lab = await server.openLab(labName);
  const executablePath = process.env['CHROMIUM_PATH'];
  if (!executablePath) throw new Error('No Chromium was found for this Jest project: give it browser-setup.mjs as globalSetup.');
  const browser = await chromium.launch({ executablePath, args: ['--no-sandbox', '--disable-background-networking', '--disable-dev-shm-usage'] });
  const open = async (size = DESK, clock?: Date): Promise<Page> => {
    const page = await openWindow(browser, server.url, size, false);
    if (clock) {
      await page.clock.install({ time: clock });
      await hearServerClock(page);
    }
    await page.goto('/');
    return page;
  };
  return {
    server,
    lab,
    open,
    openOffline: async (url, size = DESK) => {
      const page = await openWindow(browser, url, size, true);
      forgive(page, /net::ERR_|WebSocket/);
      await page.goto('/');
      return page;
    },
    signedIn: async (role, size, clock) => {
      const page = await open(size, clock);
      await signInAs(page, lab.as(role).email);
      return page;
    },
    close: async () => {
      await browser.close();
      await server.close();
    },
  };
}

async function openWindow(browser: Browser, url: string, size: Size, opensOffline: boolean): Promise<Page> {
  const context = await browser.newContext({ baseURL: url, serviceWorkers: opensOffline ? 'allow' : 'block', viewport: size, reducedMotion: 'reduce', locale: 'en-GB', timezoneId: 'Europe/Madrid' });
  context.setDefaultTimeout(PATIENCE_MS);
  const window: Window = { context, complaints: [], forgiven: null };
  context.on('weberror', (error) => window.complaints.push(error.error().stack ?? error.error().message));
  context.on('console', (message) => {
    if (message.type() !== 'error') return;
    const told = `${message.text()} (${message.location().url})`;
    if (!window.forgiven?.test(told)) window.complaints.push(told);
  });
  windows.push(window);
  return context.newPage();
}

/** Lets the console of a window tell of a failure that the test brings about. */
export function forgive(page: Page, failure: RegExp): void {
  windows.find(({ context }) => context === page.context())!.forgiven = failure;
}

/** Takes the network away from a window; its browser then complains of requests that fail, as it should. */
export async function loseNetwork(page: Page): Promise<void> {
  forgive(page, /ERR_INTERNET_DISCONNECTED|WebSocket/);
  await page.context().setOffline(true);
}

export async function findNetwork(page: Page): Promise<void> {
  await page.context().setOffline(false);
}

/**
 * Lets a window hear a server's clock that runs with its own, however the test moves that: the window's is `behindMs` behind.
 * Without it a clock that a test moves on is ahead of the server's, which is kept with each write and taken off.
 */
export async function hearServerClock(page: Page, behindMs = 0): Promise<void> {
  await page.route('**/graphql', async (route) => {
    if (!(route.request().postData() ?? '').includes('MeasureClock')) return route.fallback();
    const now = await page.evaluate(() => Date.now());
    return route.fulfill({ json: { data: { about: { __typename: 'About', serverTime: new Date(now + behindMs).toISOString() } } } });
  });
}

export async function signInAs(page: Page, email: string, password = PASSWORD): Promise<void> {
  await page.getByLabel('Sign-in name').fill(email);
  await page.getByRole('textbox', { name: 'Password' }).fill(password);
  await page.getByRole('button', { name: 'Sign in' }).click();
  await page.getByRole('heading', { level: 1, name: 'Due' }).waitFor();
}

/**
 * A test in a browser. When it fails, each open window is drawn into test/browser/screenshots, which git ignores;
 * an error in any window's console is a failure.
 */
export function scene(name: string, act: () => Promise<void>, timeoutMs = 180_000): void {
  it(name, async () => {
    try {
      await act();
      expect(complaintsSoFar()).toEqual([]);
    } catch (error) {
      await drawWindows(expect.getState().currentTestName ?? name);
      const complaints = complaintsSoFar();
      if (complaints.length > 0 && error instanceof Error) error.message += `\n\nThe console told: ${complaints.join('\n')}`;
      throw error;
    }
  }, timeoutMs);
}

/** What the consoles told since they were last asked: a complaint belongs to the scene that it was made in. */
const complaintsSoFar = (): readonly string[] => windows.flatMap(({ complaints }) => complaints.splice(0));

async function drawWindows(name: string): Promise<void> {
  const folder = join(packageRoot, 'test/browser/screenshots');
  mkdirSync(folder, { recursive: true });
  const slug = name.toLowerCase().replace(/\W+/g, '-').slice(0, 100);
  for (const [index, page] of windows.flatMap(({ context }) => context.pages()).entries()) {
    // The reason of the failure matters more than its picture.
    await page.screenshot({ path: join(folder, `${slug}-${index + 1}.png`), fullPage: true }).catch(() => undefined);
  }
}

/** Closes a window that a test needs no longer. */
export const leave = (page: Page): Promise<void> => page.context().close();

/** Until the page has its heading and fetches nothing any more. */
export async function settled(page: Page): Promise<void> {
  await page.locator('main h1').first().waitFor();
  await page.getByRole('status').filter({ hasText: /^Fetching .*…$/ }).first().waitFor({ state: 'detached' });
}

/** Opens an address of the web and waits until it stands. */
export async function visit(page: Page, path: string): Promise<void> {
  await page.goto(path);
  await settled(page);
}

/** Follows a link by its name, as a person does, to a page with this heading. */
export async function follow(page: Page, link: string | RegExp, heading: string | RegExp, within: Page | Locator = page): Promise<void> {
  await within.getByRole('link', { name: link, ...(typeof link === 'string' ? { exact: true } : {}) }).first().click();
  await page.getByRole('heading', { level: 1, name: heading }).waitFor();
  await settled(page);
}

/** What a person reads there, in one line. */
export const textOf = async (place: Locator): Promise<string> => (await place.innerText()).replace(/\s+/g, ' ').trim();

/** Waits until this can be read in the place. */
export const reads = (place: Page | Locator, text: string | RegExp): Promise<void> => place.getByText(text).first().waitFor();

const axeSource = readFileSync(createRequire(join(packageRoot, 'package.json')).resolve('axe-core/axe.min.js'), 'utf8');

interface Violation {
  readonly id: string;
  readonly help: string;
  readonly nodes: readonly { readonly target: readonly string[]; readonly failureSummary?: string }[];
}

/** What axe finds on the page as it stands: rule, place and help of each violation. The rules are those axe has on by default. */
export async function axeFindings(page: Page): Promise<readonly string[]> {
  // By the debugger, not by a script element: the page's own content security policy stays in force.
  if (!(await page.evaluate('"axe" in window'))) await page.evaluate(axeSource);
  const violations = await page.evaluate<readonly Violation[]>('axe.run(document, { resultTypes: ["violations"] }).then(({ violations }) => violations)');
  return violations.flatMap(({ id, help, nodes }) => nodes.map(({ target, failureSummary }) => `${id} at ${target.join(' ')}: ${help}. ${(failureSummary ?? '').replace(/\s+/g, ' ')}`));
}

/** What sticks out at the right of the window, so that the page scrolls sideways; nothing where it does not. */
export async function sidewaysFindings(page: Page): Promise<readonly string[]> {
  return page.evaluate<readonly string[]>(`(() => {
    const { scrollWidth, clientWidth } = document.documentElement;
    if (scrollWidth <= clientWidth) return [];
    const out = [...document.querySelectorAll('body *')].filter((each) => each.getBoundingClientRect().right > clientWidth + 1);
    const innermost = out.filter((each) => !out.some((other) => other !== each && each.contains(other)));
    return ['the page is ' + scrollWidth + ' px wide in a window of ' + clientWidth, ...innermost.slice(0, 5).map((each) => each.outerHTML.slice(0, 160))];
  })()`);
}

/** Where the first Tab leads, and whether one sees it; nothing where one does. */
export async function focusFindings(page: Page): Promise<readonly string[]> {
  await page.keyboard.press('Tab');
  return page.evaluate<readonly string[]>(`(() => {
    const held = document.activeElement;
    if (!held || held === document.body) return ['Tab leads nowhere'];
    // A field may draw its focus on the frame around it.
    const drawn = [held, held.parentElement, held.parentElement?.parentElement].some((each) => {
      if (!each) return false;
      const { outlineStyle, outlineWidth } = getComputedStyle(each);
      return outlineStyle !== 'none' && parseFloat(outlineWidth) >= 2;
    });
    const { left, top, right, bottom, width, height } = held.getBoundingClientRect();
    const inside = width > 0 && height > 0 && right > 0 && bottom > 0 && left < innerWidth && top < innerHeight;
    const name = held.outerHTML.slice(0, 120);
    return [...(drawn ? [] : ['no outline on ' + name]), ...(inside ? [] : ['out of the window: ' + name])];
  })()`);
}

/** What is wrong with the screen as it stands, at both widths; nothing where nothing is. */
export async function screenFindings(page: Page): Promise<readonly string[]> {
  const findings: string[] = [];
  for (const [name, size] of [['desk', DESK], ['phone', PHONE]] as const) {
    await page.setViewportSize(size);
    const headings = await page.getByRole('heading', { level: 1 }).count();
    findings.push(...[...(headings === 1 ? [] : [`${headings} headings of level 1`]), ...(await sidewaysFindings(page)), ...(await axeFindings(page))].map((finding) => `${name}: ${finding}`));
  }
  findings.push(...(await focusFindings(page)).map((finding) => `phone: ${finding}`));
  await page.setViewportSize(DESK);
  findings.push(...(await focusFindings(page)).map((finding) => `desk: ${finding}`));
  return findings;
}

/** That a field is marked as wrong and carries the words of why; returns them. */
export async function problemAt(field: Locator): Promise<string> {
  await field.and(field.page().locator('[aria-invalid=true]')).waitFor();
  const told = (await field.getAttribute('aria-describedby')) ?? '';
  const texts = await Promise.all(told.split(' ').filter(Boolean).map((id) => field.page().locator(`[id="${id}"]`).innerText()));
  return texts.join(' ').replace(/\s+/g, ' ').trim();
}
