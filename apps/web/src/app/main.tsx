import '@fontsource-variable/atkinson-hyperlegible-next/wght.css';
import './mantine.css';
import './theme.css';
import { MantineProvider } from '@mantine/core';
import { createRoot } from 'react-dom/client';
import { BrowserRouter } from 'react-router';
import { registerShell } from '../offline/shell-update.js';
import { App } from './app.js';
import { theme } from './theme.js';

const root = document.getElementById('root');
if (!root) throw new Error('index.html has no element with the id root');

createRoot(root).render(
  <MantineProvider theme={theme} forceColorScheme="light">
    <BrowserRouter>
      <App />
    </BrowserRouter>
  </MantineProvider>,
);

registerShell();
