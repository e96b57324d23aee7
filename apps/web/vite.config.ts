import { fileURLToPath } from 'node:url';
import react from '@vitejs/plugin-react';
import { defaultClientConditions, defineConfig } from 'vite';
import { inlineDocuments } from './build/inline-documents.js';
import { serviceWorker } from './build/service-worker.js';

const here = (path: string): string => fileURLToPath(new URL(path, import.meta.url));

/** `THREADLEAF_API` names the server that `vite` and `vite preview` hand what is no page to while screens are being worked on. */
const api = process.env['THREADLEAF_API'] ?? 'http://127.0.0.1:4600';
const own = { target: api, changeOrigin: false };
const proxy = { '/graphql': { ...own, ws: true }, '/files': own, '/labels': own, '/calendar': own, '/papers': own };

export default defineConfig({
  root: here('.'),
  plugins: [inlineDocuments(here('./src')), react(), serviceWorker(here('./service-worker/service-worker.ts'))],
  resolve: { conditions: ['threadleaf-source', ...defaultClientConditions] },
  server: { proxy },
  preview: { proxy },
  build: {
    outDir: here('../../dist/web'),
    emptyOutDir: true,
    target: 'es2022',
    // A strict content security policy allows no inline data: every asset is a file.
    assetsInlineLimit: 0,
  },
});
