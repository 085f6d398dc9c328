// How a few things run in time over a serve: heights and speeds, with the second serve brought into step.
import { useMemo } from 'preact/hooks';
import { aligned } from './align';
import type { Clip } from './clip';
import { number } from '../words';

interface Curve {
  title: string;
  unit: string;
  value: (c: Clip, t: number, mirror: boolean) => number | undefined;
}

const hand = (c: Clip) => (c.info.landmarks.includes('right_hand') ? 'right_hand' : 'right_wrist');
const tip = (c: Clip) => (c.info.landmarks.includes('racket_tip') ? 'racket_tip' : hand(c));
const isRacket = (c: Clip) => c.info.landmarks.includes('racket_tip');

const curves: Curve[] = [
  {
    title: 'Front knee flexion',
    unit: '°',
    value: (c, t, m) => flexion(c, t, m, 'left_hip', 'left_knee', 'left_ankle'),
  },
  { title: 'Height of racket tip or hitting hand', unit: 'm', value: (c, t, m) => c.at(tip(c), t, m)?.[1] },
  { title: 'Speed of racket tip or hitting hand', unit: 'm/s', value: (c, t, m) => speed(c, t, m, tip(c)) },
];

/** 0 where the joint is straight. */
function flexion(c: Clip, t: number, m: boolean, a: string, b: string, d: string): number | undefined {
  const p = c.at(a, t, m),
    q = c.at(b, t, m),
    r = c.at(d, t, m);
  if (!p || !q || !r) return undefined;
  const u = [p[0] - q[0], p[1] - q[1], p[2] - q[2]] as const,
    v = [r[0] - q[0], r[1] - q[1], r[2] - q[2]] as const;
  const cosine = (u[0] * v[0] + u[1] * v[1] + u[2] * v[2]) / (Math.hypot(...u) * Math.hypot(...v));
  return 180 - (Math.acos(Math.min(1, Math.max(-1, cosine))) * 180) / Math.PI;
}

function speed(c: Clip, t: number, m: boolean, name: string): number | undefined {
  const h = 1.5 / c.info.rate_hz;
  const p = c.at(name, t - h, m),
    q = c.at(name, t + h, m);
  return p && q ? Math.hypot(q[0] - p[0], q[1] - p[1], q[2] - p[2]) / (2 * h) : undefined;
}

interface Shown {
  clip: Clip;
  mirror: boolean;
}

interface Props {
  first: Shown;
  second?: Shown;
  now: number;
  seek: (t: number) => void;
}

const width = 400,
  height = 92,
  samples = 160;

const along = (clip: Clip, t: number) => ((t - clip.from) / (clip.to - clip.from || 1)) * width;

/** The lines of a curve; undefined where it can't be told from this recording. */
function drawn(
  curve: Curve,
  first: Shown,
  second: Shown | undefined,
): { a: string; b: string; zero: number } | undefined {
  const { clip } = first;
  const times = Array.from({ length: samples }, (_, i) => clip.from + (i / (samples - 1)) * (clip.to - clip.from));
  const a = times.map((t) => curve.value(clip, t, first.mirror));
  const b = second ? times.map((t) => curve.value(second.clip, aligned(clip, second.clip, t), second.mirror)) : [];
  const all = [...a, ...b].filter((v) => v !== undefined);
  if (all.length < 2) return undefined;
  const low = Math.min(0, ...all),
    high = Math.max(...all);
  const y = (v: number) => height - 6 - ((v - low) / (high - low || 1)) * (height - 14);
  const path = (vs: (number | undefined)[]) =>
    vs
      .map((v, i) => {
        if (v === undefined) return '';
        const move = vs[i - 1] === undefined ? 'M' : 'L';
        return `${move}${along(clip, times[i] as number).toFixed(1)},${y(v).toFixed(1)}`;
      })
      .join('');
  return { a: path(a), b: path(b), zero: y(0) };
}

export function Curves({ first, second, now, seek }: Props) {
  return (
    <div class="curves">
      {curves.map((c) => (
        <CurveView key={c.title} curve={c} {...{ first, second, now, seek }} />
      ))}
    </div>
  );
}

function CurveView({ curve, first, second, now, seek }: Props & { curve: Curve }) {
  const { clip } = first;
  const lines = useMemo(() => drawn(curve, first, second), [curve, clip, first.mirror, second?.clip, second?.mirror]);
  if (!lines) return null;
  const value = curve.value(clip, now, first.mirror);
  const other = second ? curve.value(second.clip, aligned(clip, second.clip, now), second.mirror) : undefined;
  const click = (e: MouseEvent) => {
    const box = (e.currentTarget as SVGElement).getBoundingClientRect();
    seek(clip.from + ((e.clientX - box.left) / box.width) * (clip.to - clip.from));
  };
  return (
    <figure>
      <figcaption>
        <span>{title(curve, clip)}</span>
        <span>
          {number(value)}
          {other !== undefined && <span class="quietly"> · {number(other)}</span>} {curve.unit}
        </span>
      </figcaption>
      <svg viewBox={`0 0 ${width} ${height}`} preserveAspectRatio="none" aria-hidden="true" onClick={click}>
        <line class="base" x1="0" x2={width} y1={lines.zero} y2={lines.zero} vector-effect="non-scaling-stroke" />
        {second && <path class="b" d={lines.b} vector-effect="non-scaling-stroke" />}
        <path class="a" d={lines.a} vector-effect="non-scaling-stroke" />
        <line
          class="mark"
          x1={along(clip, now)}
          x2={along(clip, now)}
          y1="0"
          y2={height}
          vector-effect="non-scaling-stroke"
        />
      </svg>
    </figure>
  );
}

const title = (c: Curve, clip: Clip) =>
  c.title.replace('racket tip or hitting hand', isRacket(clip) ? 'the racket tip' : 'the hitting hand');
