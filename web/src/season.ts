// The season, the shelf and the engine, as the server last told.
import { signal } from '@preact/signals';
import { link, Link } from './link';
import type { EngineState, Overview, ShelfEntry, Welcome } from './protocol';

export const season = signal<Overview | null>(null);
export const shelf = signal<ShelfEntry[]>([]);
export const engine = signal<EngineState>({ state: 'starting' });
export const verified = signal(0); // how far the check of every file is, 0 to 1
export const welcome = signal<Welcome | null>(null);

/** The recipe that is shown where none is asked for. */
export const first = (): ShelfEntry | undefined => shelf.peek().find((e) => !e.unread);

/** Say hello, and take what is there. */
export async function greet(): Promise<void> {
  const w = await link.ask<Welcome>('hello', { page: Link.key() });
  welcome.value = w;
  season.value = w.season;
  shelf.value = w.shelf;
  engine.value = w.engine;
}

export function listen(): void {
  link.on('season', (s) => {
    season.value = s;
  });
  link.on('shelf', (s) => {
    shelf.value = s;
  });
  link.on('verify', (p) => {
    verified.value = p.total > 0 ? p.done / p.total : 0;
  });
  link.on('engine', (e) => {
    engine.value = e;
  });
}
