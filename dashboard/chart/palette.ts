import type { Priority } from '../../shared/wire/names.ts';
import { isDark } from '../theme.ts';

/** Colours of a drawing: the page's own, or ink on white paper. */
export interface Palette {
  paper: string;
  ink: string;
  quiet: string;
  rule: string;
  grid: string;
  hatch: string;
  band: string;
  stage: string;
  priority: Readonly<Record<Priority, string>>;
}

export function pagePalette(): Palette {
  const style = getComputedStyle(document.documentElement);
  const colour = (name: string): string => style.getPropertyValue(name).trim();
  return {
    paper: colour('--paper'),
    ink: colour('--ink'),
    quiet: colour('--quiet'),
    rule: colour('--rule'),
    grid: colour('--grid'),
    hatch: colour('--hatch'),
    band: colour('--band'),
    stage: colour('--grid'),
    priority: {
      critical: colour('--critical'),
      high: colour('--high'),
      medium: colour('--medium'),
      low: colour('--low'),
    },
  };
}

/** For print and pictures, whatever the page looks like. */
export const ON_PAPER: Palette = {
  paper: '#fff',
  ink: '#000',
  quiet: '#444',
  rule: '#999',
  grid: '#e2e2e2',
  hatch: '#777',
  band: '#bbb',
  stage: '#eee',
  priority: { critical: '#b00020', high: '#a33f00', medium: '#775b00', low: '#3a5573' },
};

/** Calls back with the page's colours when they change, and with ink on paper while it is printed. */
export function onPalette(paint: (palette: Palette) => void): () => void {
  const page = (): void => paint(pagePalette());
  const paper = (): void => paint(ON_PAPER);
  let drawnDark = isDark.peek();
  const endTheme = isDark.subscribe((dark) => {
    // Told at once, too: redrawn before it was drawn, a chart loses its range.
    if (dark !== drawnDark) page();
    drawnDark = dark;
  });
  addEventListener('beforeprint', paper);
  addEventListener('afterprint', page);
  return () => {
    endTheme();
    removeEventListener('beforeprint', paper);
    removeEventListener('afterprint', page);
  };
}
