// What was changed by hand, newest first; each change can be taken back at any later day.
import { useEffect, useState } from 'preact/hooks';
import { connection, link } from '../link';
import type { Change } from '../protocol';
import { say } from '../say';
import { season } from '../season';
import { day } from '../words';

/** The changes of one serve, recording or player, or of the whole season. */
export function History({ subject, empty }: { subject?: string; empty?: string }) {
  const [list, setList] = useState<Change[] | null>(null);
  const now = season.value,
    ready = connection.value === 'open';
  useEffect(() => {
    let gone = false;
    if (ready)
      link.ask<Change[] | null>('history', { subject, limit: 200 }).then(
        (l) => !gone && setList(l ?? []),
        (e: Error) => !gone && say(`What was changed by hand can't be listed: ${e.message}`),
      );
    return () => {
      gone = true;
    };
  }, [subject, now, ready]);
  if (!list) return null;
  if (list.length === 0) return empty ? <p class="quietly">{empty}</p> : null;
  return (
    <ul class="history" aria-label="What was changed by hand">
      {list.map((c) => (
        <li key={c.batch} class={c.undone ? 'undone' : ''}>
          <span>{c.sentence}</span>
          <span class="quietly">
            {moment(c.at)}
            {c.undone ? `, taken back ${moment(c.undone)}` : ''}
          </span>
          <button type="button" class="link" onClick={() => flip(c)}>
            {c.undone ? 'Put back' : 'Take back'}
          </button>
        </li>
      ))}
    </ul>
  );
}

function flip(c: Change): void {
  link.ask(c.undone ? 'redo' : 'undo', { batch: c.batch }).catch((e: Error) => say(e.message));
}

/** A time as "14 March 2026, 09:30". */
export function moment(iso: string): string {
  const at = new Date(iso);
  const two = (n: number) => String(n).padStart(2, '0');
  const date = `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
  return `${day(date)}, ${two(at.getHours())}:${two(at.getMinutes())}`;
}
