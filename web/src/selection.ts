// The serves that are selected: the same in every chart, table and figure.
import { signal } from '@preact/signals';
import { address, go } from './address';

export const selected = signal<ReadonlySet<string>>(new Set());

/** Select these serves, in place of the others or with them. */
export function select(serves: Iterable<string>, add = false): void {
  const next = new Set(add ? selected.peek() : []);
  for (const s of serves) if (s) next.add(s);
  const before = selected.peek();
  if (next.size !== before.size || [...next].some((s) => !before.has(s))) selected.value = next;
}

/** Take a serve in, or out where it is in. */
export function toggle(serve: string): void {
  const next = new Set(selected.peek());
  if (!next.delete(serve)) next.add(serve);
  selected.value = next;
}

/** Take these serves in, or all of them out where all are in. One serve alone was only looked at: it is let go. */
export function toggleAll(serves: string[]): void {
  const before = selected.peek();
  const next = new Set(before.size > 1 ? before : []);
  if (serves.every((s) => next.has(s))) for (const s of serves) next.delete(s);
  else for (const s of serves) next.add(s);
  selected.value = next;
}

/** Let go of the serves of a recording that is no more. Their ids begin with its id. */
export function without(recording: string): void {
  const gone = (serve: string) => serve.startsWith(`${recording}-`);
  select([...selected.peek()].filter((s) => !gone(s)));
  const { serve, beside } = address.peek();
  if (gone(serve)) go({ serve: '', beside: '' });
  else if (gone(beside)) go({ beside: '' });
}

export const clear = (): void => {
  selected.value = new Set();
};

/** What a click on a serve does: open it; with shift, put it beside the open one; with ctrl or cmd, select it, too. */
export function pick(serve: string, event?: { shiftKey?: boolean; ctrlKey?: boolean; metaKey?: boolean }): void {
  if (!serve) return;
  if (event?.ctrlKey || event?.metaKey) {
    toggle(serve);
    return;
  }
  const open = address.peek().serve;
  if (event?.shiftKey && open && open !== serve) {
    select([open, serve]);
    go({ beside: serve });
    return;
  }
  select([serve]);
  go({ serve, beside: '', source: false });
}
