// From metres in space to pixels on the screen, in parallel projection, as kernel/figure/drawing.go defines it.
import type { Point } from './drawing';

export interface Camera {
  azimuth: number; // degrees; 0 looks from behind, 90 from the hitting side
  elevation: number; // degrees, positive from above
  scale: number; // px a metre
  x: number; // px: where the origin is
  y: number;
}

/** Right and up on the screen, and depth towards the viewer, in metres. */
export function turn(p: Point, azimuth: number, elevation: number): [number, number, number] {
  const a = (azimuth * Math.PI) / 180,
    e = (elevation * Math.PI) / 180;
  const away = p[0] * Math.cos(a) - p[2] * Math.sin(a);
  return [
    p[0] * Math.sin(a) + p[2] * Math.cos(a),
    p[1] * Math.cos(e) + away * Math.sin(e),
    -away * Math.cos(e) + p[1] * Math.sin(e),
  ];
}

/** The pixel of a point. */
export function at(p: Point, c: Camera): [number, number] {
  const [right, up] = turn(p, c.azimuth, c.elevation);
  return [c.x + right * c.scale, c.y - up * c.scale];
}

/** A camera that shows a box around the origin in a panel, whatever the azimuth, so that turning doesn't jump. */
export function fit(
  low: Point,
  high: Point,
  azimuth: number,
  elevation: number,
  width: number,
  height: number,
  left: number,
  margin = 26,
): Camera {
  const across = widest(low, high, azimuth);
  const e = (elevation * Math.PI) / 180;
  const reach = Math.hypot(Math.max(-low[0], high[0]), Math.max(-low[2], high[2]));
  const tall = (high[1] - low[1]) * Math.cos(e) + 2 * Math.abs(Math.sin(e)) * reach;
  const scale = Math.max(1, Math.min((width - 2 * margin) / across.size, (height - 2 * margin) / Math.max(tall, 0.5)));
  const middle: Point = [(low[0] + high[0]) / 2, (low[1] + high[1]) / 2, (low[2] + high[2]) / 2];
  const [right, up] = turn(middle, azimuth, elevation);
  return { azimuth, elevation, scale, x: left + width / 2 - right * scale, y: height / 2 + up * scale };
}

function widest(low: Point, high: Point, azimuth: number): { size: number } {
  const corners: Point[] = [
    [low[0], 0, low[2]],
    [low[0], 0, high[2]],
    [high[0], 0, low[2]],
    [high[0], 0, high[2]],
  ];
  const rights = corners.map((c) => turn(c, azimuth, 0)[0]);
  return { size: Math.max(0.8, Math.max(...rights) - Math.min(...rights)) };
}
