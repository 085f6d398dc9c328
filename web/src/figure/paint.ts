// Paints panels on a canvas. The order of things is that of kernel/figure/drawing.go.
import { colour, faded, type Palette } from '../palette';
import { at, turn, type Camera } from './camera';
import type { Line, Panel, Point } from './drawing';

const font = "13.5px 'Source Sans 3 Variable', system-ui, sans-serif";

type Brush = { g: CanvasRenderingContext2D; c: Camera; p: Palette };

export function paint(g: CanvasRenderingContext2D, panel: Panel, c: Camera, p: Palette): void {
  const b: Brush = { g, c, p };
  g.lineJoin = 'round';
  g.lineCap = 'round';
  for (const l of panel.grounds ?? []) stroke(b, l);
  for (const pl of panel.planes ?? []) plane(b, pl.corners, pl.role);
  for (const t of panel.trails ?? []) trail(b, t.points, t.role, t.width_px);
  for (const l of [...(panel.segments ?? [])].sort((m, n) => depth(m, c) - depth(n, c))) stroke(b, l);
  for (const r of panel.rings ?? []) ring(b, r.at, r.radius_m * c.scale, r.role, r.width_px);
  for (const d of panel.dots ?? []) dot(b, d.at, d.radius_px, d.role, !!d.hollow);
  for (const a of panel.angles ?? []) angle(b, a);
  for (const d of panel.dimensions ?? []) dimension(b, d.from, d.to, d.role, d.label);
  for (const l of panel.labels ?? []) words(b, at(l.at, c), l.text, l.role, l.left ? 'right' : 'left');
}

const depth = (l: Line, c: Camera) => turn(l.from, c.azimuth, c.elevation)[2] + turn(l.to, c.azimuth, c.elevation)[2];

function path(b: Brush, points: Point[]): void {
  b.g.beginPath();
  points.forEach((q, i) => {
    const [x, y] = at(q, b.c);
    if (i === 0) b.g.moveTo(x, y);
    else b.g.lineTo(x, y);
  });
}

function stroke(b: Brush, l: Line): void {
  path(b, [l.from, l.to]);
  b.g.setLineDash(l.dashed ? [3, 5] : []);
  b.g.lineWidth = l.width_px;
  b.g.strokeStyle = colour(b.p, l.role);
  b.g.stroke();
  b.g.setLineDash([]);
}

/** A plane is a faint surface, or a dashed line where it is seen edge on. */
function plane(b: Brush, corners: readonly Point[], role: string): void {
  const seen = corners.map((q) => at(q, b.c));
  const hue = colour(b.p, role);
  if (area(seen) < 700) {
    const byHeight = [...corners].sort((m, n) => m[1] - n[1]);
    stroke(b, { from: byHeight[0] as Point, to: byHeight[3] as Point, role, width_px: 1.3, dashed: true });
    return;
  }
  path(b, [...corners]);
  b.g.closePath();
  b.g.fillStyle = faded(hue, 0.1);
  b.g.fill();
  b.g.lineWidth = 1;
  b.g.strokeStyle = faded(hue, 0.45);
  b.g.stroke();
}

function area(q: [number, number][]): number {
  return (
    Math.abs(
      q.reduce((sum, [x, y], i) => {
        const [nx, ny] = q[(i + 1) % q.length] as [number, number];
        return sum + x * ny - nx * y;
      }, 0),
    ) / 2
  );
}

/** A trail fades towards its past. */
function trail(b: Brush, points: Point[], role: string, width: number): void {
  const hue = colour(b.p, role);
  for (let i = 1; i < points.length; i++) {
    path(b, [points[i - 1] as Point, points[i] as Point]);
    b.g.lineWidth = width;
    b.g.strokeStyle = faded(hue, 0.12 + 0.55 * (i / points.length));
    b.g.stroke();
  }
}

function ring(b: Brush, p: Point, radius: number, role: string, width: number): void {
  const [x, y] = at(p, b.c);
  b.g.beginPath();
  b.g.arc(x, y, Math.max(radius, 2), 0, 2 * Math.PI);
  b.g.fillStyle = b.p.paper;
  b.g.fill();
  b.g.lineWidth = width;
  b.g.strokeStyle = colour(b.p, role);
  b.g.stroke();
}

function dot(b: Brush, p: Point, radius: number, role: string, hollow: boolean): void {
  const [x, y] = at(p, b.c);
  b.g.beginPath();
  b.g.arc(x, y, radius, 0, 2 * Math.PI);
  b.g.fillStyle = hollow ? b.p.paper : colour(b.p, role);
  b.g.fill();
  if (hollow) {
    b.g.lineWidth = 1.6;
    b.g.strokeStyle = colour(b.p, role);
    b.g.stroke();
  }
}

/** An arc in the plane of its two directions. */
function angle(
  b: Brush,
  a: { at: Point; from: Point; to: Point; radius_m: number; role: string; label: string },
): void {
  const u = unit(minus(a.from, a.at)),
    w = unit(minus(a.to, a.at));
  const cosine = Math.min(1, Math.max(-1, u[0] * w[0] + u[1] * w[1] + u[2] * w[2]));
  const whole = Math.acos(cosine);
  if (!(whole > 1e-3)) return;
  const arc = Array.from({ length: 25 }, (_, i): Point => {
    const t = i / 24,
      k = Math.sin((1 - t) * whole) / Math.sin(whole),
      m = Math.sin(t * whole) / Math.sin(whole);
    return [0, 1, 2].map(
      (j) => (a.at[j] as number) + a.radius_m * (k * (u[j] as number) + m * (w[j] as number)),
    ) as unknown as Point;
  });
  path(b, arc);
  b.g.lineWidth = 1.5;
  b.g.strokeStyle = colour(b.p, a.role);
  b.g.stroke();
  const [x, y] = at(arc[12] as Point, b.c),
    [ox, oy] = at(a.at, b.c);
  const far = Math.hypot(x - ox, y - oy) || 1;
  words(b, [x + ((x - ox) / far) * 13, y + ((y - oy) / far) * 13], a.label, a.role, x < ox ? 'right' : 'left');
}

function dimension(b: Brush, from: Point, to: Point, role: string, label: string): void {
  const [x1, y1] = at(from, b.c),
    [x2, y2] = at(to, b.c);
  const long = Math.hypot(x2 - x1, y2 - y1);
  b.g.lineWidth = 1.2;
  b.g.strokeStyle = colour(b.p, role);
  b.g.beginPath();
  b.g.moveTo(x1, y1);
  b.g.lineTo(x2, y2);
  if (long > 2) {
    const nx = (-(y2 - y1) / long) * 4,
      ny = ((x2 - x1) / long) * 4;
    for (const [x, y] of [
      [x1, y1],
      [x2, y2],
    ] as const) {
      b.g.moveTo(x - nx, y - ny);
      b.g.lineTo(x + nx, y + ny);
    }
  }
  b.g.stroke();
  const upright = Math.abs(y2 - y1) > Math.abs(x2 - x1);
  if (upright) words(b, [Math.max(x1, x2) + 9, (y1 + y2) / 2], label, role, 'left');
  else words(b, [x2 + (x2 < x1 ? -9 : 9), y2], label, role, x2 < x1 ? 'right' : 'left');
}

function words(b: Brush, [x, y]: readonly [number, number], text: string, role: string, align: CanvasTextAlign): void {
  b.g.font = font;
  b.g.textAlign = align;
  b.g.textBaseline = 'middle';
  b.g.lineWidth = 4;
  b.g.strokeStyle = b.p.paper;
  b.g.strokeText(text, x, y);
  b.g.fillStyle = colour(b.p, role);
  b.g.fillText(text, x, y);
}

const minus = (p: Point, q: Point): Point => [p[0] - q[0], p[1] - q[1], p[2] - q[2]];
function unit(p: Point): Point {
  const n = Math.hypot(...p) || 1;
  return [p[0] / n, p[1] / n, p[2] / n];
}
