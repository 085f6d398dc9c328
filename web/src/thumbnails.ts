// The pictures on the shelf: of each recipe its first chart, once it has run. They are kept in this browser.
import { effect, signal } from '@preact/signals';
import { plannedSteps, recipe, running, steps } from './desk';
import { palette } from './palette';
import type { Chart, Result } from './protocol';

const prefix = 'tossline-picture:';
export const thumbnails = signal<ReadonlyMap<string, string>>(new Map());

function firstChart(results: Result[] | undefined): Chart | undefined {
  for (const r of results ?? []) {
    const found = r.chart ?? firstChart(r.list);
    if (found) return found;
  }
  return undefined;
}

const made = new Map<string, Chart>();

/** Draw the picture of the open recipe when its run has ended. */
export function follow(): void {
  effect(() => {
    void palette.value;
    const name = recipe.value;
    if (running.value) return;
    const chart = plannedSteps.value.map((s) => firstChart(steps.value.get(s.name)?.results)).find(Boolean);
    if (!chart || !name) return;
    if (made.get(name) === chart && thumbnails.peek().has(name)) return;
    made.set(name, chart);
    setTimeout(async () => {
      // after what the reader waits for
      const { thumbnail } = await import('./chart/picture');
      const blob = await thumbnail(chart).catch(() => undefined);
      if (!blob) return;
      const before = thumbnails.peek().get(name);
      thumbnails.value = new Map(thumbnails.peek()).set(name, URL.createObjectURL(blob));
      if (before) URL.revokeObjectURL(before);
      const text = await blob.text();
      if (text.length < 60_000) localStorage.setItem(prefix + name, text);
    }, 300);
  });
}

/** Take the pictures of earlier visits. */
export function restore(): void {
  const found = new Map<string, string>();
  for (let i = 0; i < localStorage.length; i++) {
    const key = localStorage.key(i) ?? '';
    if (!key.startsWith(prefix)) continue;
    found.set(
      key.slice(prefix.length),
      URL.createObjectURL(new Blob([localStorage.getItem(key) ?? ''], { type: 'image/svg+xml' })),
    );
  }
  thumbnails.value = found;
}
