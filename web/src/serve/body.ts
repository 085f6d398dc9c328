// A serve at an instant as a panel to paint: the body, the racket and the path of its tip, the plane through the
// hitting shoulder.
import type { Line, Panel, Point } from '../figure/drawing';
import type { Clip } from './clip';

type Bone = [from: string, to: string, part: string, width: number];

const bones: Bone[] = [
  ['left_hip', 'right_hip', 'pelvis', 3.4],
  ['left_shoulder', 'right_shoulder', 'shoulders', 3.4],
  ['left_hip', 'left_shoulder', 'trunk', 2.6],
  ['right_hip', 'right_shoulder', 'trunk', 2.6],
  ['left_hip', 'left_knee', 'front leg', 3.4],
  ['left_knee', 'left_ankle', 'front leg', 3.4],
  ['left_ankle', 'left_toe', 'front leg', 2.6],
  ['right_hip', 'right_knee', 'back leg', 3.4],
  ['right_knee', 'right_ankle', 'back leg', 3.4],
  ['right_ankle', 'right_toe', 'back leg', 2.6],
  ['left_shoulder', 'left_elbow', 'tossing arm', 3.4],
  ['left_elbow', 'left_wrist', 'tossing arm', 3.4],
  ['left_wrist', 'left_hand', 'tossing arm', 2.6],
  ['right_shoulder', 'right_elbow', 'hitting arm', 3.8],
  ['right_elbow', 'right_wrist', 'hitting arm', 3.8],
  ['right_wrist', 'right_hand', 'hitting arm', 2.8],
  ['right_hand', 'racket_grip', 'racket', 2.2],
  ['racket_grip', 'racket_throat', 'racket', 2.2],
  ['racket_throat', 'racket_left', 'racket', 1.8],
  ['racket_throat', 'racket_right', 'racket', 1.8],
  ['racket_left', 'racket_tip', 'racket', 1.8],
  ['racket_right', 'racket_tip', 'racket', 1.8],
];

export interface Pose {
  clip: Clip;
  timeS: number;
  role: string;
  mirror: boolean;
}

/** The ground under the hitting shoulder at contact (or in the middle of the serve): what panels are counted from. */
export function anchor(clip: Clip, mirror: boolean): Point {
  const t = clip.time('contact') ?? (clip.from + clip.to) / 2;
  const p =
    clip.at(hitting(clip, mirror, 'shoulder'), t, mirror) ??
    clip.at('pelvis', t, mirror) ??
    clip.at('left_hip', t, mirror);
  return p ? [p[0], 0, p[2]] : [0, 0, 0];
}

/** The landmark on the hitting side, in the picture as it is shown. */
const hitting = (clip: Clip, mirror: boolean, part: string) =>
  `${clip.info.hand === 'left' && !mirror ? 'left' : 'right'}_${part}`;

/** The panel of a pose; the plane through the shoulder goes up to top, in metres. */
export function panel({ clip, timeS, role, mirror }: Pose, top: number): Panel {
  const o = anchor(clip, mirror);
  const get = (name: string): Point | undefined => {
    const p = clip.at(name, timeS, mirror);
    return p && [p[0] - o[0], p[1], p[2] - o[2]];
  };
  const segments = bones.flatMap(([a, b, part, width_px]): Line[] => {
    const from = get(a),
      to = get(b);
    return from && to ? [{ from, to, role: part === 'racket' ? 'ink' : role, width_px, part }] : [];
  });
  return {
    serve: clip.info.serve,
    caption: '',
    instant: '',
    role,
    grounds: ground(),
    planes: shoulderPlane(get(hitting(clip, mirror, 'shoulder')), top, role),
    trails: [
      ...trail(clip, racketEnd(clip, mirror), timeS, mirror, o, role, 0.6),
      ...trail(clip, 'ball', timeS, mirror, o, 'series-5', 0.5),
    ],
    segments,
    rings: head(get, role),
    dots: get('ball') ? [{ at: get('ball') as Point, role: 'series-5', radius_px: 4.5, name: 'ball' }] : [],
  };
}

/** What traces the path: the tip of the racket, or the hitting hand where there is no racket. */
function racketEnd(clip: Clip, mirror: boolean): string {
  return clip.info.landmarks.includes('racket_tip')
    ? 'racket_tip'
    : hitting(clip, mirror, clip.info.landmarks.includes('right_hand') ? 'hand' : 'wrist');
}

function ground(): Line[] {
  const lines: Line[] = [];
  for (let i = -2; i <= 2; i++) {
    lines.push(
      { from: [i / 2, 0, -1], to: [i / 2, 0, 1], role: 'line', width_px: 1 },
      { from: [-1, 0, i / 2], to: [1, 0, i / 2], role: 'line', width_px: 1 },
    );
  }
  return lines;
}

function shoulderPlane(s: Point | undefined, top: number, role: string): Panel['planes'] {
  if (!s) return [];
  return [
    {
      name: 'plane of the hitting shoulder',
      role,
      corners: [
        [-0.6, 0, s[2]],
        [0.6, 0, s[2]],
        [0.6, top, s[2]],
        [-0.6, top, s[2]],
      ],
    },
  ];
}

function trail(
  clip: Clip,
  name: string,
  timeS: number,
  mirror: boolean,
  o: Point,
  role: string,
  seconds: number,
): NonNullable<Panel['trails']> {
  const step = Math.max(1 / clip.info.rate_hz, seconds / 120);
  const runs: Point[][] = [[]];
  for (let t = Math.max(clip.from, timeS - seconds); t <= timeS + 1e-9; t += step) {
    const p = clip.at(name, t, mirror);
    if (p) runs[runs.length - 1]?.push([p[0] - o[0], p[1], p[2] - o[2]]);
    else if (runs[runs.length - 1]?.length) runs.push([]);
  }
  return runs.filter((r) => r.length > 1).map((points) => ({ points, role, width_px: 1.6, name }));
}

function head(get: (n: string) => Point | undefined, role: string): NonNullable<Panel['rings']> {
  const centre = get('head') ?? get('head_top');
  return centre ? [{ at: centre, radius_m: 0.11, role, width_px: 3 }] : [];
}

/** The box that both serves fill from start to finish, so that the picture keeps one scale. */
export function bounds(poses: { clip: Clip; mirror: boolean }[]): { low: Point; high: Point } {
  const low: [number, number, number] = [-0.9, 0, -0.9],
    high: [number, number, number] = [0.9, 2.3, 0.9];
  for (const { clip, mirror } of poses) {
    const o = anchor(clip, mirror);
    for (const name of [racketEnd(clip, mirror), 'left_hand', 'left_wrist', 'head', 'left_toe', 'right_toe']) {
      for (let i = 0; i < clip.frames; i += 4) {
        const p = clip.at(name, clip.from + i / clip.info.rate_hz, mirror);
        if (!p) continue;
        const q = [p[0] - o[0], p[1], p[2] - o[2]];
        for (let j = 0; j < 3; j++) {
          low[j] = Math.min(low[j] as number, q[j] as number);
          high[j] = Math.max(high[j] as number, q[j] as number);
        }
      }
    }
  }
  return { low: clampPoint(low), high: clampPoint(high) };
}

const clampPoint = (p: [number, number, number]): Point => [
  Math.min(1.6, Math.max(-1.6, p[0])),
  Math.min(3.4, Math.max(0, p[1])),
  Math.min(1.6, Math.max(-1.6, p[2])),
];
