// What the server answers to a part of the page that shows it: asked anew when it may have become another.
import { useEffect, useState } from 'preact/hooks';
import { connection } from './link';
import { season } from './season';

interface Answer<T> {
  answer: T | null;
  error: string; // a sentence, "" where there is an answer or none yet
}

/**
 * The answer to a question, asked again after every change of the season, when the link is open again, and when what
 * it is about changes. Until then the answer before it stays. A question that is null has no answer.
 */
export function useAnswer<T>(ask: () => Promise<T> | null, about: string): Answer<T> {
  const [state, set] = useState<Answer<T>>({ answer: null, error: '' });
  const now = season.value,
    ready = connection.value === 'open';
  useEffect(() => {
    if (!ready) return;
    let gone = false;
    const take = (a: Answer<T>) => !gone && set(a);
    const asked = ask();
    if (asked)
      asked.then(
        (answer) => take({ answer, error: '' }),
        (e: Error) => take({ answer: null, error: e.message }),
      );
    else take({ answer: null, error: '' });
    return () => {
      gone = true;
    };
  }, [about, now, ready]);
  return state;
}
