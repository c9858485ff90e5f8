import { effect, signal } from '@preact/signals';
import { theme } from './settings.ts';

const system = matchMedia('(prefers-color-scheme: dark)');
const systemIsDark = signal(system.matches);

/** Whether the page is dark now: charts are drawn anew when it changes. */
export const isDark = signal(false);

/** Follows the reader's choice, and the system's where they left it to that. */
export function followTheme(): void {
  system.addEventListener('change', ({ matches }) => {
    systemIsDark.value = matches;
  });
  effect(() => {
    const dark = theme.value === 'dark' || (theme.value === 'system' && systemIsDark.value);
    document.documentElement.dataset.theme = dark ? 'dark' : 'light';
    isDark.value = dark;
  });
}
