// One serve at the side: the figure, the time bar with its events, curves and measures; a second one beside it.
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import { address, go } from '../address';
import { useAnswer } from '../answer';
import { PutRight } from '../changes/serve';
import { fit } from '../figure/camera';
import { paint } from '../figure/paint';
import { useStage } from '../figure/stage';
import { link } from '../link';
import { say } from '../say';
import { select } from '../selection';
import { day, decimalsOf, number, plain, signed, withUnit } from '../words';
import { aligned } from './align';
import { bounds, panel } from './body';
import { fetchClip, type Clip } from './clip';
import { Curves } from './curves';
import { TimeBar } from './timebar';

export function Serve() {
  const { serve, beside } = address.value;
  const clipOf = (s: string) => (s ? fetchClip(s) : null);
  const first = useAnswer(() => clipOf(serve), serve),
    second = useAnswer(() => clipOf(beside), beside);
  const clip = first.answer;
  return (
    <section class="side" aria-label="Serve">
      <header class="side-head">
        <h2>{clip ? name(clip) : 'Serve'}</h2>
        <button type="button" class="link" disabled={!clip?.info.previous} onClick={() => open(clip?.info.previous)}>
          Previous
        </button>
        <button type="button" class="link" disabled={!clip?.info.next} onClick={() => open(clip?.info.next)}>
          Next
        </button>
        {beside && (
          <button
            type="button"
            class="link"
            onClick={() => {
              go({ beside: '' });
              select([serve]);
            }}
          >
            One only
          </button>
        )}
        <button type="button" class="close" aria-label="Close the serve" onClick={() => go({ serve: '', beside: '' })}>
          ×
        </button>
      </header>
      {first.error ? (
        <p class="notice">{first.error}</p>
      ) : clip ? (
        <Shown key={clip.info.serve} clip={clip} second={beside ? second.answer : null} />
      ) : (
        <p class="notice">Fetching the serve.</p>
      )}
    </section>
  );
}

function open(serve: string | undefined): void {
  if (!serve) return;
  select([serve]);
  go({ serve });
}

const name = (c: Clip) => `${c.info.player}, ${day(c.info.session)}, serve ${c.info.number}`;
const speeds = [1, 0.5, 0.25, 0.1];

function Shown({ clip, second }: { clip: Clip; second: Clip | null }) {
  const [now, setNow] = useState(clip.time('contact') ?? (clip.from + clip.to) / 2);
  const [playing, setPlaying] = useState(false);
  const [pace, setPace] = useState(0.25);
  usePlayer(clip, playing, pace, setNow, now);

  const mirrored = (c: Clip) => c.info.hand === 'left' && !!second && clip.info.hand !== second.info.hand;
  const poses = [
    { clip, timeS: now, role: 'clay', mirror: mirrored(clip) },
    ...(second ? [{ clip: second, timeS: aligned(clip, second, now), role: 'court', mirror: mirrored(second) }] : []),
  ];
  const box = useMemo(() => bounds(poses), [clip, second]);
  const stage = useStage(360, { azimuth: 35, elevation: 8 }, (g, w, h, view, p) => {
    const each = w / poses.length;
    poses.forEach((pose, i) => {
      g.save();
      g.beginPath();
      g.rect(i * each, 0, each, h);
      g.clip();
      paint(
        g,
        panel(pose, box.high[1]),
        fit(box.low, box.high, view.azimuth, view.elevation, each, h, i * each, 16),
        p,
      );
      g.restore();
    });
  });
  const correct = (kind: string, t: number | null) =>
    link.ask('correct', { serve: clip.info.serve, event: kind, time_s: t }).catch((e: Error) => say(e.message));
  const key = (e: KeyboardEvent) => {
    if (e.key === ' ' && (e.target as HTMLElement).tagName !== 'BUTTON') {
      e.preventDefault();
      setPlaying(!playing);
    }
  };
  const both = second ? `${name(clip)} beside ${name(second)}` : name(clip);
  return (
    <div class="serve" onKeyDown={key}>
      <div class="stage">
        <canvas
          ref={stage.canvas}
          tabIndex={0}
          role="img"
          aria-label={`Stick figure of ${both}. Arrow keys turn it, space plays it.`}
          {...stage.handlers}
          onDblClick={stage.reset}
        />
        {second && (
          <div class="names">
            <span>
              <b>{name(clip)}</b>
            </span>
            <span>
              <b>{name(second)}</b>
            </span>
          </div>
        )}
        <TimeBar
          clip={clip}
          now={now}
          seek={(t) => {
            setPlaying(false);
            setNow(t);
          }}
          correct={(k, t) => void correct(k, t)}
        />
        <div class="play">
          <button type="button" class="act" onClick={() => setPlaying(!playing)}>
            {playing ? 'Pause' : 'Play'}
          </button>
          <label class="quietly">
            at{' '}
            <select value={pace} onChange={(e) => setPace(Number(e.currentTarget.value))}>
              {speeds.map((s) => (
                <option key={s} value={s}>
                  {s === 1 ? 'full' : `1/${1 / s}`} speed
                </option>
              ))}
            </select>
          </label>
          <span class="quietly">
            {number(now - (clip.time('contact') ?? clip.from), 3)} s{' '}
            {clip.time('contact') !== undefined ? 'from contact' : ''}
          </span>
          <button type="button" class="link" onClick={() => stage.look({ azimuth: 0, elevation: 0 })}>
            Behind
          </button>
          <button type="button" class="link" onClick={() => stage.look({ azimuth: 90, elevation: 0 })}>
            Side
          </button>
          <button type="button" class="link" onClick={() => stage.look({ azimuth: 0, elevation: 89 })}>
            Above
          </button>
        </div>
      </div>
      {clip.info.cut_off && <p class="notice">{clip.info.cut_off}</p>}
      <Curves
        first={{ clip, mirror: clip.info.hand === 'left' }}
        second={second ? { clip: second, mirror: second.info.hand === 'left' } : undefined}
        now={now}
        seek={setNow}
      />
      <Measures clip={clip} second={second} />
      <Events clip={clip} seek={setNow} back={(k) => void correct(k, null)} />
      <PutRight info={clip.info} now={now} />
      {!second && <p class="quiet">Shift and click another serve, in any chart or table, to put it beside this one.</p>}
    </div>
  );
}

/** Moves the instant while playing, from start to end and over again. */
function usePlayer(clip: Clip, playing: boolean, pace: number, set: (t: number) => void, now: number): void {
  const at = useRef(now);
  at.current = now;
  useEffect(() => {
    if (!playing) return;
    let frame = 0,
      before = performance.now();
    const tick = (t: number) => {
      const next = at.current + ((t - before) / 1000) * pace;
      before = t;
      set(next > clip.to ? clip.from : next);
      frame = requestAnimationFrame(tick);
    };
    frame = requestAnimationFrame(tick);
    return () => cancelAnimationFrame(frame);
  }, [playing, pace, clip]);
}

function Measures({ clip, second }: { clip: Clip; second: Clip | null }) {
  const list = clip.info.measures ?? [];
  if (list.length === 0) return null;
  return (
    <table class="facts">
      <thead>
        <tr>
          <th scope="col">Measure</th>
          <th scope="col" class="num">
            This serve
          </th>
          {second && (
            <th scope="col" class="num">
              Beside
            </th>
          )}
          <th scope="col">
            <span class="unseen">Basis</span>
          </th>
        </tr>
      </thead>
      <tbody>
        {list.map((m) => {
          const other = second?.info.measures?.find((o) => o.column === m.column);
          return (
            <tr key={m.column}>
              <th scope="row">{m.title}</th>
              <td class="num">{m.value === null ? '–' : withUnit(signed(m.value, decimalsOf(m.unit)), m.unit)}</td>
              {second && (
                <td class="num">
                  {other?.value == null ? '–' : withUnit(signed(other.value, decimalsOf(m.unit)), m.unit)}
                </td>
              )}
              <td class="quietly">{m.missing || m.basis}</td>
            </tr>
          );
        })}
      </tbody>
    </table>
  );
}

function Events({ clip, seek, back }: { clip: Clip; seek: (t: number) => void; back: (kind: string) => void }) {
  const list = [...(clip.info.events ?? [])].sort((a, b) => a.time_s - b.time_s);
  if (list.length === 0) return null;
  return (
    <table class="facts">
      <thead>
        <tr>
          <th scope="col">Event</th>
          <th scope="col" class="num">
            Time
          </th>
          <th scope="col">Found by</th>
        </tr>
      </thead>
      <tbody>
        {list.map((e) => (
          <tr key={e.kind}>
            <th scope="row">
              <button type="button" class="link" onClick={() => seek(e.time_s)}>
                {plain(e.kind)}
              </button>
            </th>
            <td class="num">{number(e.time_s, 3)} s</td>
            <td>
              {e.by_hand ? (
                <>
                  hand{' '}
                  <button type="button" class="link" onClick={() => back(e.kind)}>
                    take back
                  </button>
                </>
              ) : (
                e.method
              )}
            </td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}
