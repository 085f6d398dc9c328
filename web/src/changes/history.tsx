// What was changed by hand, newest first; each change can be taken back at any later day.
import { useAnswer } from '../answer';
import { link } from '../link';
import type { Change } from '../protocol';
import { say } from '../say';
import { day } from '../words';

interface Props {
  of?: string[]; // serves, recordings and players; the whole season where not given
  empty?: string; // what is said where nothing was changed
}

export function History({ of, empty }: Props) {
  const about = JSON.stringify(of ?? []);
  const { answer, error } = useAnswer(() => link.ask<Change[] | null>('history', { subjects: of }), about);
  if (error) return <p class="trouble">What was changed by hand can’t be listed: {error}</p>;
  if (!answer) return null;
  if (answer.length === 0) return empty ? <p class="quietly">{empty}</p> : null;
  return (
    <ul class="history" aria-label="What was changed by hand">
      {answer.map((c) => (
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
