// What can be put right about one serve: its particulars, whether it counts, where it begins and ends.
import { useState } from 'preact/hooks';
import { go } from '../address';
import { useAnswer } from '../answer';
import { link } from '../link';
import type { Listing, ServeLine } from '../protocol';
import type { ClipInfo } from '../serve/clip';
import { select } from '../selection';
import { number } from '../words';
import { change, editsOf, fieldsOf } from './edit';
import { History } from './history';

const types = ['flat', 'slice', 'kick'],
  sides = ['', 'deuce', 'ad'],
  stances = ['', 'platform', 'pinpoint'],
  outcomes = ['in', 'net', 'long', 'wide'];

export function PutRight({ info, now }: { info: ClipInfo; now: number }) {
  const [open, setOpen] = useState(false);
  return (
    <details class="put-right" open={open} onToggle={(e) => setOpen(e.currentTarget.open)}>
      <summary>Put this serve right</summary>
      {open && <Sheet info={info} now={now} />}
    </details>
  );
}

function Sheet({ info, now }: { info: ClipInfo; now: number }) {
  const { player, session } = info;
  const { answer, error } = useAnswer(() => link.ask<Listing>('serves', { player, session }), info.serve);
  const lines = (answer?.serves ?? []).filter((s) => s.recording === info.recording);
  const at = lines.findIndex((s) => s.serve === info.serve);
  const line = lines[at];
  if (error) return <p class="trouble">{error}</p>;
  if (!line) return null;
  const following = lines[at + 1];
  const to = (serves: string[] | undefined) => {
    const first = serves?.[0];
    if (!first) return;
    select([first]);
    go({ serve: first, beside: '' });
  };
  return (
    <>
      <Particulars key={JSON.stringify(line)} line={line} />
      <Counts line={line} />
      <div class="acts">
        <button
          type="button"
          class="act"
          disabled={now <= line.from_s || now >= line.to_s}
          onClick={async () => to((await change('split', { serve: info.serve, time_s: now }))?.serves)}
        >
          Make two serves of it, the second from {number(now, 2)} s
        </button>
        {following && (
          <button
            type="button"
            class="act"
            onClick={async () => to((await change('merge', { serves: [info.serve, following.serve] }))?.serves)}
          >
            Join the next one to it
          </button>
        )}
      </div>
      <History of={[info.serve]} />
    </>
  );
}

function Particulars({ line }: { line: ServeLine }) {
  const before: Record<string, string> = {
    serve_type: line.serve_type ?? '',
    court_side: line.court_side ?? '',
    stance_type: line.stance_type ?? '',
    outcome: line.outcome ?? '',
    ball_speed_m_s: line.ball_speed_m_s ? String(line.ball_speed_m_s) : '',
  };
  const keep = (e: SubmitEvent) => {
    e.preventDefault();
    const edits = editsOf('serve', line.serve, before, fieldsOf(e.currentTarget as HTMLFormElement));
    if (edits.length > 0) void change('change', { edits });
  };
  return (
    <form class="particulars" onSubmit={keep}>
      <label>
        Kind
        <input name="serve_type" list="serve-types" defaultValue={before['serve_type']} />
      </label>
      <label>
        Side
        <Choice name="court_side" choices={sides} value={before['court_side']} />
      </label>
      <label>
        Stance
        <Choice name="stance_type" choices={stances} value={before['stance_type']} />
      </label>
      <label>
        Outcome
        <input name="outcome" list="outcomes" defaultValue={before['outcome']} />
      </label>
      <label>
        Ball speed, m/s
        <input
          name="ball_speed_m_s"
          type="number"
          min="1"
          max="100"
          step="any"
          defaultValue={before['ball_speed_m_s']}
        />
      </label>
      <button type="submit" class="act">
        Keep
      </button>
      <datalist id="serve-types">
        {types.map((t) => (
          <option key={t} value={t} />
        ))}
      </datalist>
      <datalist id="outcomes">
        {outcomes.map((o) => (
          <option key={o} value={o} />
        ))}
      </datalist>
    </form>
  );
}

function Choice({ name, choices, value }: { name: string; choices: string[]; value: string | undefined }) {
  return (
    <select name={name}>
      {choices.map((c) => (
        <option key={c} value={c} selected={c === value}>
          {c || 'not known'}
        </option>
      ))}
    </select>
  );
}

/** Whether the serve is measured. One that is left out stays in the season, and says why. */
function Counts({ line }: { line: ServeLine }) {
  const discard = (value: string) =>
    void change('change', { edits: [{ target: 'serve', subject: line.serve, field: 'discarded', value }] });
  if (line.left_out) {
    return (
      <p class="counts">
        <span>Left out: {line.left_out.replace(/^discarded: /, '')}.</span>
        <button type="button" class="act" onClick={() => discard('')}>
          Take it in again
        </button>
      </p>
    );
  }
  return (
    <form
      class="counts"
      onSubmit={(e) => {
        e.preventDefault();
        discard(fieldsOf(e.currentTarget as HTMLFormElement)['why']?.trim() || 'no reason given');
      }}
    >
      <label>
        Leave it out, because
        <input name="why" placeholder="a practice swing" />
      </label>
      <button type="submit" class="act">
        Leave it out
      </button>
    </form>
  );
}
