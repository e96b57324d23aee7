import { configure } from '@testing-library/dom';
import { TextDecoder, TextEncoder } from 'node:util';

/** What the component library asks of a browser and jsdom does not have. */
window.matchMedia ??= (query) => ({ matches: false, media: query, addEventListener: () => undefined, removeEventListener: () => undefined, addListener: () => undefined, removeListener: () => undefined });
globalThis.ResizeObserver ??= class { observe() {} unobserve() {} disconnect() {} };
globalThis.TextEncoder ??= TextEncoder;
globalThis.TextDecoder ??= TextDecoder;

/** What comes, comes within milliseconds; a machine that does other work too may take seconds. */
configure({ asyncUtilTimeout: 15_000 });
