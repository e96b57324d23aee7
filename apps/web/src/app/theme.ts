import { createTheme } from '@mantine/core';
import type { MantineColorsTuple } from '@mantine/core';

/** One ink: permanganate violet, from its wash to nearly black. Index 7 is the ink itself. */
const violet: MantineColorsTuple = [
  '#f6f0f7', '#efe6f1', '#dcc7e0', '#c4a0ca', '#a674af', '#8a4c95', '#712f7b', '#5b1a63', '#45124b', '#2e0b33',
];

export const theme = createTheme({
  colors: { violet },
  primaryColor: 'violet',
  primaryShade: 7,
  black: '#17141a',
  fontFamily: "'Atkinson Hyperlegible Next Variable', 'Segoe UI', system-ui, sans-serif",
  fontFamilyMonospace: "ui-monospace, 'SFMono-Regular', 'DejaVu Sans Mono', 'Liberation Mono', monospace",
  fontSizes: { xs: '0.8125rem', sm: '0.9375rem', md: '1.0625rem', lg: '1.25rem', xl: '1.5rem' },
  defaultRadius: 2,
  cursorType: 'pointer',
  focusRing: 'auto',
});
