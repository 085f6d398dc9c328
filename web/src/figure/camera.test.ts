import { describe, expect, it } from 'vitest';
import { at, fit, turn } from './camera';
import type { Point } from './drawing';

const near = (got: readonly number[], want: readonly number[]) =>
  want.forEach((v, i) => expect(got[i]).toBeCloseTo(v, 9));
const r = Math.SQRT1_2;

// By the formulas in kernel/figure/drawing.go: right = x sin a + z cos a, up = y cos e + (x cos a − z sin a) sin e.
describe('turn', () => {
  it.each<[string, Point, number, number, [number, number, number]]>([
    ['from behind, z is right', [0, 0, 1], 0, 0, [1, 0, 0]],
    ['from behind, x is away', [1, 0, 0], 0, 0, [0, 0, -1]],
    ['from the hitting side, x is right', [1, 0, 0], 90, 0, [1, 0, 0]],
    ['from the hitting side, z is near', [0, 0, 1], 90, 0, [0, 0, 1]],
    ['from above, x is up', [1, 0, 0], 0, 90, [0, 1, 0]],
    ['from above, height is near', [0, 1, 0], 0, 90, [0, 0, 1]],
    ['half way round', [1, 0, 0], 45, 0, [r, 0, -r]],
    ['half way up', [0, 1, 0], 0, 45, [0, r, r]],
  ])('%s', (_, p, azimuth, elevation, want) => near(turn(p, azimuth, elevation), want));

  it('keeps lengths', () => {
    for (const [azimuth, elevation] of [
      [0, 0],
      [33, 12],
      [200, -40],
      [-75, 89],
    ] as const) {
      expect(Math.hypot(...turn([0.3, 1.2, -0.7], azimuth, elevation))).toBeCloseTo(Math.hypot(0.3, 1.2, -0.7), 9);
    }
  });
});

it('puts right to the right and up towards the top', () => {
  near(at([0, 2, 0.5], { azimuth: 0, elevation: 0, scale: 100, x: 200, y: 300 }), [250, 100]);
});

describe('fit', () => {
  const low: Point = [-0.8, 0, -0.6],
    high: Point = [1.1, 2.9, 0.9];
  const corners = [0, 1, 2, 3, 4, 5, 6, 7].map((i): Point => [
    (i & 1 ? high : low)[0],
    (i & 2 ? high : low)[1],
    (i & 4 ? high : low)[2],
  ]);
  it.each([
    [0, 0],
    [90, 0],
    [35, 8],
    [130, 45],
    [0, 89],
    [-60, -20],
  ])('shows the whole box from azimuth %d, elevation %d', (azimuth, elevation) => {
    const camera = fit(low, high, azimuth, elevation, 400, 360, 400);
    for (const c of corners) {
      const [x, y] = at(c, camera);
      expect(x).toBeGreaterThanOrEqual(400);
      expect(x).toBeLessThanOrEqual(800);
      expect(y).toBeGreaterThanOrEqual(0);
      expect(y).toBeLessThanOrEqual(360);
    }
  });
});
