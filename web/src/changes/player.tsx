// What is known of a player, to be put right: name, particulars, and the recordings.
import { signal } from '@preact/signals';
import { address, go } from '../address';
import { useAnswer } from '../answer';
import { link } from '../link';
import { Sheet } from '../parts/sheet';
import type { Listing, Player, RecordingLine } from '../protocol';
import { season } from '../season';
import { count } from '../words';
import { change, editsOf, fieldsOf } from './edit';
import { History } from './history';
import { removal } from './removal';

export const asked = signal(''); // the player whose sheet lies open

export function PlayerSheet() {
  const player = season.value?.players.find((p) => p.name === asked.value);
  if (!player) return null;
  return (
    <Sheet
      title={player.name}
      close={() => {
        asked.value = '';
      }}
    >
      <About key={JSON.stringify([player.name, player.height_m, player.level, player.birth_year])} player={player} />
      <Recordings player={player} />
    </Sheet>
  );
}

function About({ player }: { player: Player }) {
  const before: Record<string, string> = {
    height_m: player.height_m ? String(player.height_m) : '',
    level: player.level ?? '',
    birth_year: player.birth_year ? String(player.birth_year) : '',
  };
  const keep = async (e: SubmitEvent) => {
    e.preventDefault();
    const { name = '', ...after } = fieldsOf(e.currentTarget as HTMLFormElement);
    const edits = editsOf('player', player.name, before, after);
    if (edits.length > 0 && !(await change('change', { edits }))) return;
    const other = name.trim();
    if (!other || other === player.name || !(await change('rename', { player: player.name, name: other }))) return;
    asked.value = other;
    if (address.peek().player === player.name) go({ player: other });
  };
  return (
    <form class="particulars" onSubmit={(e) => void keep(e)}>
      <label>
        Name or pseudonym
        <input name="name" required defaultValue={player.name} />
      </label>
      <label>
        Height, m
        <input name="height_m" type="number" min="0.5" max="2.6" step="0.01" defaultValue={before['height_m']} />
      </label>
      <label>
        Year of birth
        <input name="birth_year" type="number" min="1900" max="2100" step="1" defaultValue={before['birth_year']} />
      </label>
      <label>
        Level
        <input name="level" defaultValue={before['level']} />
      </label>
      <button type="submit" class="act">
        Keep
      </button>
    </form>
  );
}

function Recordings({ player }: { player: Player }) {
  const { answer, error } = useAnswer(() => link.ask<Listing>('serves', { player: player.name }), player.name);
  const list = (answer?.recordings ?? []).toSorted((a, b) => a.session.localeCompare(b.session));
  const held = (r: RecordingLine) => answer?.serves.filter((s) => s.recording === r.recording).length ?? 0;
  const put = (r: RecordingLine, field: string, value: string) =>
    void change('change', { edits: [{ target: 'recording', subject: r.recording, field, value }] });
  if (error) return <p class="trouble">The recordings can’t be listed: {error}</p>;
  return (
    <>
      <table class="facts recordings">
        <caption>{count(list.length, 'recording')}</caption>
        <thead>
          <tr>
            <th scope="col">File</th>
            <th scope="col">Session</th>
            <th scope="col">Hitting hand</th>
            <th scope="col">
              <span class="unseen">What can be done</span>
            </th>
          </tr>
        </thead>
        <tbody>
          {list.map((r) => (
            <tr key={r.recording}>
              <th scope="row">
                {r.file}
                {r.problem && <span class="trouble"> {r.problem}</span>}
              </th>
              <td>
                <input
                  type="date"
                  aria-label={`Session of ${r.file}`}
                  value={r.session}
                  onChange={(e) => e.currentTarget.value && put(r, 'session', e.currentTarget.value)}
                />
              </td>
              <td>
                <select
                  aria-label={`Hitting hand in ${r.file}`}
                  value={r.hand}
                  onChange={(e) => put(r, 'hand', e.currentTarget.value)}
                >
                  <option value="right">right</option>
                  <option value="left">left</option>
                </select>
              </td>
              <td>
                <button type="button" class="link" onClick={() => void change('recut', { recording: r.recording })}>
                  Find its serves anew
                </button>
                <button
                  type="button"
                  class="link"
                  aria-haspopup="dialog"
                  aria-label={`Remove ${r.file}`}
                  onClick={() => {
                    removal.value = { ...r, serves: held(r) };
                  }}
                >
                  Remove
                </button>
              </td>
            </tr>
          ))}
        </tbody>
      </table>
      <History of={[player.name, ...list.map((r) => r.recording)]} />
    </>
  );
}
