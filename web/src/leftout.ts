// How many serves results look at, which were left out, and why.
import type { LeftOut, Result } from './protocol';
import { list } from './words';

/** Of the results of one step: the most serves that one of them looks at, and all that were left out. */
export function counted(results: Result[]): { serves: number; out: LeftOut[] } {
  const flat = results.flatMap((r) => (r.kind === 'list' ? (r.list ?? []) : [r]));
  return { serves: Math.max(0, ...flat.map((r) => r.serves ?? 0)), out: flat.flatMap((r) => r.left_out ?? []) };
}

/** "14", however many reasons a serve has. */
export const howMany = (out: LeftOut[]): string =>
  new Set(out.flatMap((l) => l.serves ?? [])).size.toLocaleString('en');

/** "gap at contact 9 and no racket 5", the first four reasons. */
export const reasons = (out: LeftOut[]): string =>
  list(
    out
      .filter((l) => (l.serves?.length ?? 0) > 0)
      .slice(0, 4)
      .map((l) => `${l.reason} ${l.serves?.length}`),
  );
