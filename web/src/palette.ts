// Colours by role. A chart or figure names a role ("court", "clay", "series-3"); style/colours.css says what colour
// it is, in light, in dark and on paper.
import { signal } from '@preact/signals';

const roles = [
  'paper',
  'card',
  'ink',
  'soft',
  'faint',
  'line',
  'rule',
  'in',
  'clay',
  'clay-in',
  'court',
  'trouble',
  'series-1',
  'series-2',
  'series-3',
  'series-4',
  'series-5',
  'series-6',
  'series-7',
  'series-8',
] as const;

export type Role = (typeof roles)[number];
export type Palette = Record<Role, string>;

function read(): Palette {
  const style = getComputedStyle(document.documentElement);
  return Object.fromEntries(roles.map((r) => [r, style.getPropertyValue(`--${r}`).trim() || '#000'])) as Palette;
}

/** The palette as it is now; it changes with the system's light or dark, and for printing. */
export const palette = signal<Palette>(read());

const again = () => {
  palette.value = read();
};
for (const query of ['(prefers-color-scheme: dark)', 'print']) matchMedia(query).addEventListener('change', again);

/** Read the palette anew, once the style is there. */
export const refresh = again;

/** The colour of a role; what is no role is a colour already. */
export function colour(p: Palette, role: string): string {
  return (p as Record<string, string>)[role] ?? role;
}

export const series = (p: Palette): string[] => roles.filter((r) => r.startsWith('series-')).map((r) => p[r]);

/** A colour with less than full strength, for canvas. */
export function faded(hex: string, alpha: number): string {
  const n = Number.parseInt(hex.slice(1), 16);
  return `rgba(${(n >> 16) & 255}, ${(n >> 8) & 255}, ${n & 255}, ${alpha})`;
}
