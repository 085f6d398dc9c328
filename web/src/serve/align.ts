// Runs two serves in step: between the events that both have, the second's time is stretched to the first's.
import type { Clip } from './clip';

const order = ['start', 'release', 'trophy', 'low_point', 'takeoff', 'contact', 'landing', 'finish'];

/** The time in b that belongs to time t in a. Outside the common events, or where there are none, it runs as in a. */
export function aligned(a: Clip, b: Clip, t: number): number {
  const pairs = order
    .flatMap((kind) => {
      const u = a.time(kind),
        v = b.time(kind);
      return u !== undefined && v !== undefined ? [[u, v] as const] : [];
    })
    .filter(([u, v], i, all) => i === 0 || (u > (all[i - 1]?.[0] ?? -Infinity) && v > (all[i - 1]?.[1] ?? -Infinity)));
  const first = pairs[0],
    last = pairs[pairs.length - 1];
  if (!first || !last) return b.from + (t - a.from);
  if (t <= first[0]) return first[1] + (t - first[0]);
  if (t >= last[0]) return last[1] + (t - last[0]);
  const i = pairs.findIndex(([u]) => u > t);
  const [u0, v0] = pairs[i - 1] as readonly [number, number],
    [u1, v1] = pairs[i] as readonly [number, number];
  return v0 + ((t - u0) / (u1 - u0)) * (v1 - v0);
}
