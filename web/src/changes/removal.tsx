// Taking a recording out of the season, which can't be taken back: it is asked first.
import { signal } from '@preact/signals';
import { useState } from 'preact/hooks';
import { Sheet } from '../parts/sheet';
import type { RecordingLine } from '../protocol';
import { say } from '../say';
import { without } from '../selection';
import { count, day } from '../words';
import { change } from './edit';

/** The recording that is to be removed, with the number of its serves. */
export const removal = signal<(RecordingLine & { serves: number }) | null>(null);

const close = () => {
  removal.value = null;
};

export function Removal() {
  const r = removal.value;
  const [busy, setBusy] = useState(false);
  if (!r) return null;
  const remove = async () => {
    setBusy(true);
    const gone = await change('remove', { recording: r.recording });
    setBusy(false);
    if (!gone) return;
    without(r.recording);
    close();
    say(`${r.file} was removed from the season.`);
  };
  return (
    <Sheet
      title="Remove this recording?"
      small
      close={close}
      acts={
        <>
          <button type="button" class="act" autofocus onClick={close}>
            Keep it
          </button>
          <button type="button" class="act grave" disabled={busy} onClick={() => void remove()}>
            Remove it for good
          </button>
        </>
      }
    >
      <p class="said">
        <b>{r.file}</b>: {count(r.serves, 'serve')} of {r.player}, {day(r.session)}.
      </p>
      <p class="said">
        The recording, its serves and all that was put right in them are deleted, and this can’t be taken back. The file
        that you once brought in stays where it is.
      </p>
      <p class="said quietly">To keep the recording and not measure one of its serves, leave that serve out instead.</p>
    </Sheet>
  );
}
