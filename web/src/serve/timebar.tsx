// The time of a serve with its events. Dragging the line moves the instant; dragging an event corrects it by hand.
import { useState } from 'preact/hooks';
import { useWidth } from '../parts/width';
import type { Clip, ClipEvent } from './clip';
import { number, plain } from '../words';

const edge = 8,
  base = 59,
  height = 75;

interface Props {
  clip: Clip;
  now: number;
  seek: (t: number) => void;
  correct?: (kind: string, t: number) => void;
}

export function TimeBar({ clip, now, seek, correct }: Props) {
  const { box: svg, width } = useWidth<SVGSVGElement>(400);
  const [held, setHeld] = useState<{ kind: string; t: number } | null>(null);
  const x = (t: number) => edge + ((t - clip.from) / (clip.to - clip.from || 1)) * (width - 2 * edge);
  const timeAt = (e: PointerEvent) => {
    const box = (svg.current as SVGSVGElement).getBoundingClientRect();
    const k = ((e.clientX - box.left) / box.width) * width;
    return Math.min(
      clip.to,
      Math.max(clip.from, clip.from + ((k - edge) / (width - 2 * edge)) * (clip.to - clip.from)),
    );
  };
  const move = (e: PointerEvent) => {
    if (!(e.buttons & 1)) return;
    const t = timeAt(e);
    if (held) setHeld({ ...held, t });
    seek(t);
  };
  const drop = () => {
    if (held) correct?.(held.kind, held.t);
    setHeld(null);
  };
  const frame = 1 / clip.info.rate_hz;
  const key = (e: KeyboardEvent) => {
    const by = ({ ArrowLeft: -frame, ArrowRight: frame, PageUp: -0.1, PageDown: 0.1 } as Record<string, number>)[e.key];
    if (by === undefined) return;
    e.preventDefault();
    seek(Math.min(clip.to, Math.max(clip.from, now + by)));
  };
  const events = [...(clip.info.events ?? [])].sort((a, b) => a.time_s - b.time_s);
  const rows = stagger(events.map((e) => x(e.time_s)));
  const place = (e: ClipEvent) => x(held?.kind === e.kind ? held.t : e.time_s);
  return (
    <div class="timebar">
      <svg
        ref={svg}
        viewBox={`0 0 ${width} ${height}`}
        role="group"
        aria-label="Time of the serve"
        onPointerDown={(e) => {
          svg.current?.setPointerCapture(e.pointerId);
          seek(timeAt(e));
        }}
        onPointerMove={move}
        onPointerUp={drop}
      >
        <line class="track" x1={edge} x2={width - edge} y1={base} y2={base} />
        <line class="played" x1={edge} x2={x(now)} y1={base} y2={base} />
        {events.map((e, i) => (
          <line key={e.kind} class="lead" x1={place(e)} x2={place(e)} y1={nameAt(rows[i]) + 4} y2={base} />
        ))}
        {events.map((e, i) => (
          <Mark
            key={e.kind}
            event={e}
            x={place(e)}
            y={nameAt(rows[i])}
            hold={correct ? () => setHeld({ kind: e.kind, t: e.time_s }) : undefined}
            nudge={correct ? (by) => correct(e.kind, e.time_s + by * frame) : undefined}
            seek={() => seek(e.time_s)}
          />
        ))}
        <circle
          class="now"
          cx={x(now)}
          cy={base}
          r="6.5"
          role="slider"
          tabindex={0}
          aria-label="Instant"
          aria-valuemin={0}
          aria-valuemax={Number((clip.to - clip.from).toFixed(2))}
          aria-valuenow={Number((now - clip.from).toFixed(2))}
          aria-valuetext={`${number(now - clip.from, 2)} s`}
          onKeyDown={key}
        />
      </svg>
    </div>
  );
}

/** Names that would overlap go to the next of four rows. */
export function stagger(xs: number[]): number[] {
  const ends = [-99, -99, -99, -99];
  return xs.map((v) => {
    const free = ends.findIndex((end) => v - end > 58);
    const row = free < 0 ? ends.indexOf(Math.min(...ends)) : free;
    ends[row] = v;
    return row;
  });
}

const nameAt = (row = 0) => 9 + row * 13;

function Mark({
  event,
  x,
  y,
  hold,
  nudge,
  seek,
}: {
  event: ClipEvent;
  x: number;
  y: number;
  hold?: () => void;
  nudge?: (by: number) => void;
  seek: () => void;
}) {
  const how = event.by_hand ? 'set by hand' : `${event.method}${event.stand_in ? ', a stand-in' : ''}`;
  const key = (e: KeyboardEvent) => {
    const by = e.key === 'ArrowLeft' ? -1 : e.key === 'ArrowRight' ? 1 : 0;
    if (e.key === 'Enter') seek();
    if (!by || !nudge) return;
    e.preventDefault();
    e.stopPropagation();
    nudge(by);
  };
  return (
    <g
      class={`event ${event.by_hand ? 'hand' : ''} ${event.stand_in ? 'stand-in' : ''}`}
      tabindex={0}
      role="button"
      onPointerDown={hold}
      onKeyDown={key}
      aria-label={`${plain(event.kind)}, ${how}. Arrow keys move it by a frame.`}
    >
      <title>{`${plain(event.kind)}: ${how}`}</title>
      <circle cx={x} cy={base} r="3.6" />
      <text x={x} y={y} text-anchor={x < 40 ? 'start' : 'middle'}>
        {plain(event.kind)}
      </text>
    </g>
  );
}
