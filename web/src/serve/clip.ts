// One serve with all its frames, as the server gives it: the twin of ClipInfo in workbench/server/protocol.go.
import { link, type Rows } from '../link';
import type { Point } from '../figure/drawing';

export interface ClipInfo {
  serve: string;
  player: string;
  session: string;
  number: number; // place among the player's serves of the session, from 1
  recording: string;
  file: string;
  hand: string;
  rate_hz: number;
  first_s: number; // time of the first frame from the start of the recording
  landmarks: string[];
  events: ClipEvent[] | null;
  cut_off?: string;
  previous?: string;
  next?: string;
  measures:
    { column: string; title: string; unit?: string; value: number | null; missing?: string; basis?: string }[] | null;
}

export interface ClipEvent {
  kind: string;
  time_s: number;
  method: string;
  confidence: number;
  stand_in?: boolean;
  by_hand?: boolean;
}

export class Clip {
  private index: Map<string, number>;

  constructor(
    readonly info: ClipInfo,
    private xyz: Float32Array,
  ) {
    this.index = new Map(info.landmarks.map((n, i) => [n, i]));
  }

  get frames(): number {
    return this.info.landmarks.length === 0 ? 0 : this.xyz.length / (3 * this.info.landmarks.length);
  }

  get from(): number {
    return this.info.first_s;
  }

  get to(): number {
    return this.info.first_s + Math.max(0, this.frames - 1) / this.info.rate_hz;
  }

  time(kind: string): number | undefined {
    return this.info.events?.find((e) => e.kind === kind)?.time_s;
  }

  /**
   * Where a landmark is at a time, between frames by straight lines; undefined where it was not tracked. With mirror
   * set, left-handers are shown as right-handers.
   */
  at(name: string, timeS: number, mirror = false): Point | undefined {
    const i = this.index.get(mirror ? swapped(name) : name);
    if (i === undefined) return undefined;
    const f = Math.min(Math.max((timeS - this.from) * this.info.rate_hz, 0), this.frames - 1);
    const a = Math.floor(f),
      b = Math.min(a + 1, this.frames - 1),
      k = f - a;
    const p = [0, 1, 2].map((j) => {
      const u = this.xyz[(a * this.info.landmarks.length + i) * 3 + j] as number;
      const v = this.xyz[(b * this.info.landmarks.length + i) * 3 + j] as number;
      return k === 0 ? u : u + k * (v - u);
    }) as [number, number, number];
    if (!p.every(Number.isFinite)) return undefined;
    return mirror ? [p[0], p[1], -p[2]] : p;
  }
}

/** The landmark on the other side. */
export function swapped(name: string): string {
  return name.replace(/^(left|right)_|_(left|right)$/, (m) =>
    m.includes('left') ? m.replace('left', 'right') : m.replace('right', 'left'),
  );
}

export async function fetchClip(serve: string): Promise<Clip> {
  const answer = await link.ask<Rows>('clip', { serve });
  const { tableFromIPC } = await import('apache-arrow');
  const t = tableFromIPC(answer.stream);
  const info = JSON.parse(t.schema.metadata.get('clip') ?? '{}') as ClipInfo;
  const parts =
    t.getChild('xyz')?.data.map((d) => {
      const width = 3 * info.landmarks.length;
      const values = d.children[0]?.values as Float32Array;
      return values.subarray(d.offset * width, (d.offset + d.length) * width);
    }) ?? [];
  const all = new Float32Array(parts.reduce((n, p) => n + p.length, 0));
  let at = 0;
  for (const p of parts) {
    all.set(p, at);
    at += p.length;
  }
  return new Clip(info, all);
}
