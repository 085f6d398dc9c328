// The season as a whole: all that was changed by hand, and whether every stored file is whole.
import { signal } from '@preact/signals';
import { useState } from 'preact/hooks';
import { link } from '../link';
import { Sheet } from '../parts/sheet';
import type { Report } from '../protocol';
import { verified } from '../season';
import { count } from '../words';
import { History } from './history';

export const open = signal(false);

const untouched =
  'Nothing was changed by hand yet. ' +
  'Move an event of a serve, or put a serve or a player right: ' +
  'each change is listed here, and can be taken back at any later day.';

export function SeasonSheet() {
  if (!open.value) return null;
  return (
    <Sheet
      title="Changes and files"
      close={() => {
        open.value = false;
      }}
    >
      <Files />
      <History empty={untouched} />
    </Sheet>
  );
}

function Files() {
  const [state, setState] = useState<'' | 'busy' | Report | Error>('');
  const check = () => {
    verified.value = 0;
    setState('busy');
    link.ask<Report>('verify').then(setState, setState);
  };
  return (
    <div class="files" role="status">
      <button type="button" class="act" disabled={state === 'busy'} onClick={check}>
        Check every file
      </button>
      {state === 'busy' && <progress max={1} value={verified.value} aria-label="How far the check is" />}
      {state instanceof Error && <span class="trouble">{state.message}</span>}
      {typeof state === 'object' && !(state instanceof Error) && <Found report={state} />}
    </div>
  );
}

function Found({ report }: { report: Report }) {
  const { problems, notes, recordings, serves } = report;
  return (
    <>
      {!problems?.length && (
        <span>{`Every file is whole: ${count(recordings, 'recording')}, ${count(serves, 'serve')}.`}</span>
      )}
      <Places list={problems} class="trouble" />
      <Places list={notes} class="quietly" />
    </>
  );
}

function Places({ list, class: look }: { list?: Report['problems']; class: string }) {
  if (!list?.length) return null;
  return (
    <ul class={look}>
      {list.map((p) => (
        <li key={p.where + p.text}>
          {p.where}: {p.text}
        </li>
      ))}
    </ul>
  );
}
