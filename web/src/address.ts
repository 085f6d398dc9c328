// Where the page is: everything that is shown is reachable by its address, so Back, reload and bookmarks work.
import { signal } from '@preact/signals';

export interface Address {
  recipe: string;
  source: boolean; // the source lies open
  step: string; // the step that is marked
  serve: string; // the serve that lies open
  beside: string; // the one beside it
  player: string; // the player whose sessions are shown
  measure: string; // the measure of the sparklines
}

const empty: Address = { recipe: '', source: false, step: '', serve: '', beside: '', player: '', measure: '' };

/** Read an address from the query of a URL. Unknown names are passed over. */
export function parse(query: string): Address {
  const q = new URLSearchParams(query);
  const text = (name: string) => q.get(name) ?? '';
  return {
    recipe: text('recipe'),
    source: q.has('source'),
    step: text('step'),
    serve: text('serve'),
    beside: text('beside'),
    player: text('player'),
    measure: text('measure'),
  };
}

/** Write an address as the query of a URL: what is empty is left out. */
export function format(a: Address): string {
  const q = new URLSearchParams();
  for (const [name, value] of Object.entries(a)) {
    if (value) q.set(name, value === true ? '' : String(value));
  }
  const text = q.toString().replace(/=(?=&|$)/g, '');
  return text ? `?${text}` : '/';
}

export const address = signal<Address>(typeof location === 'undefined' ? empty : parse(location.search));

/** Go somewhere. Opening a recipe or a serve can be undone with Back; smaller moves replace the entry. */
export function go(change: Partial<Address>, how?: 'replace'): void {
  const next = { ...address.peek(), ...change };
  const keep = !how && (change.recipe !== undefined || change.serve !== undefined || change.source !== undefined);
  const url = format(next);
  if (url === format(address.peek())) return;
  history[keep ? 'pushState' : 'replaceState'](null, '', url);
  address.value = next;
}

if (typeof window !== 'undefined') {
  window.addEventListener('popstate', () => {
    address.value = parse(location.search);
  });
}
