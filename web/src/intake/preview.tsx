// What was understood of the files that were dropped, to be corrected before anything is stored.
import type { JSX } from 'preact';
import { useId } from 'preact/hooks';
import { Sheet } from '../parts/sheet';
import { season } from '../season';
import { count, number, plain } from '../words';
import { correct, discard, discardAll, incoming, rename, storable, storeAll, type Incoming } from './files';
import {
  brings,
  holds,
  obstacle,
  tableName,
  type Brought,
  type Choices,
  type Fact,
  type ServeFound,
  type Understanding,
  type Whole,
} from './understanding';

export function Preview() {
  const files = incoming.value;
  if (files.length === 0) return null;
  const ready = files.filter(storable);
  const serves = ready.reduce((n, f) => n + (f.understanding?.serves?.length ?? 0), 0);
  const busy = files.some((f) => f.state === 'storing');
  return (
    <Sheet
      title={
        files.some((f) => f.brought || f.whole)
          ? `How ${files.length === 1 ? 'this file was' : `these ${files.length} files were`} understood`
          : files.length === 1
            ? 'How this recording was understood'
            : `How these ${files.length} recordings were understood`
      }
      close={discardAll}
      acts={
        <>
          <span class="say" role="status">
            {serves > 0 ? `${count(serves, 'serve')} to store` : ''}
          </span>
          <button type="button" class="act" onClick={discardAll}>
            {busy ? 'Stop' : 'Store nothing'}
          </button>
          <button type="button" class="act first" disabled={busy || ready.length === 0} onClick={() => void storeAll()}>
            {ready.length > 1
              ? `Store ${ready.length} ${ready.some((f) => f.brought || f.whole) ? 'files' : 'recordings'}`
              : 'Store in the season'}
          </button>
        </>
      }
    >
      {files.map((f) => (
        <FileView key={f.id} file={f} />
      ))}
      <datalist id="known-players">
        {season.value?.players.map((p) => (
          <option key={p.name} value={p.name} />
        ))}
      </datalist>
    </Sheet>
  );
}

function FileView({ file }: { file: Incoming }) {
  const u = file.understanding;
  const stops = u && file.state === 'ready' ? obstacle(u, file.choices) : '';
  return (
    <section class="file" aria-busy={file.state !== 'ready'}>
      <h3>
        <span>{file.name}</span>
        <button type="button" class="link" onClick={() => discard(file.id)}>
          {file.state === 'storing' ? 'Stop' : 'Leave out'}
        </button>
      </h3>
      {file.state !== 'ready' && file.state !== 'failed' && (
        <progress max={1} value={file.done} aria-label={stateWords[file.state]} />
      )}
      {file.state !== 'ready' && file.state !== 'failed' && <p class="quietly">{stateWords[file.state]}</p>}
      {file.error && (
        <p class="trouble" role="alert">
          {file.error}
        </p>
      )}
      {u && <Understood id={file.id} u={u} choices={file.choices} />}
      {file.brought && <TableView brought={file.brought} />}
      {file.whole && <WholeView file={file} whole={file.whole} />}
      {stops && (
        <p class="trouble" role="status">
          {stops}
        </p>
      )}
    </section>
  );
}

/** A table of any other content, which can be kept under a name. */
function WholeView({ file, whole }: { file: Incoming; whole: Whole }) {
  const id = useId();
  return (
    <>
      <p>It is no recording: {file.why}</p>
      <p>
        As a table: {holds(whole)}. <label for={id}>To keep it, name it </label>
        <input
          id={id}
          type="text"
          maxLength={100}
          placeholder={tableName(file.name)}
          value={file.keepAs}
          onInput={(e) => rename(file.id, e.currentTarget.value)}
        />
        {season.value?.tables?.some((t) => t.name === file.keepAs.trim()) &&
          ' It takes the place of the table of this name, which can be brought back on any later day.'}
      </p>
      {whole.notes?.map((n) => <p class="quietly">{n}</p>)}
    </>
  );
}

/** What a table brings. */
function TableView({ brought }: { brought: Brought }) {
  const { changes, edits = [], groups = [], not_found: lost = [] } = brought;
  const most = 12;
  return (
    <>
      <p>
        {changes > 0 ? `${count(changes, 'change')} by hand. ` : 'A table of what is known of recordings and serves. '}
        {brings(brought) ? '' : 'The season has all of it already.'}
        {edits.length > 0 &&
          `${count(edits.length, 'change')} to the season, to be taken back together on any later day.`}
      </p>
      {groups.map((g) => (
        <p key={g.name}>
          Group {g.name}: {count(g.serves.length, 'serve')}
        </p>
      ))}
      {lost.length > 0 && (
        <p class="trouble" role="status">
          Nothing in the season was found for {lost.slice(0, most).join(', ')}
          {lost.length > most && ` and ${lost.length - most} more`}.
        </p>
      )}
    </>
  );
}

const stateWords: Record<Incoming['state'], string> = {
  sending: 'Taking the file',
  reading: 'Reading it',
  ready: '',
  storing: 'Storing it',
  stored: '',
  failed: '',
};
const unitNames: Record<string, string> = {
  mm: 'millimetres',
  cm: 'centimetres',
  m: 'metres',
  in: 'inches',
  ft: 'feet',
};
const axes = ['+x', '-x', '+y', '-y', '+z', '-z'];

function Understood({ id, u, choices }: { id: number; u: Understanding; choices: Choices }) {
  const say = (c: Choices) => correct(id, c);
  return (
    <>
      <div class="understood">
        <Words
          label="Player"
          fact={u.player}
          own={choices.player}
          list="known-players"
          change={(player) => say({ player })}
        />
        <Words
          label="Session"
          fact={u.session}
          own={choices.session}
          type="date"
          change={(session) => say({ session })}
        />
        <Choose
          label="Hitting hand"
          fact={u.hand}
          own={choices.hand}
          options={[
            ['right', 'right'],
            ['left', 'left'],
          ]}
          change={(hand) => say({ hand })}
        />
        <div class="fact">
          <span>Format</span>
          <b>
            {u.format.toUpperCase()}, {count(u.frames, 'frame')}
          </b>
          <small>{number(u.duration_s, 1)} s</small>
        </div>
        <NumberFact
          label="Rate"
          unit="frames a second"
          fact={u.rate}
          own={choices.rate_hz}
          change={(rate_hz) => say({ rate_hz })}
        />
        <Choose
          label="Units"
          fact={u.units}
          own={choices.units}
          options={Object.entries(unitNames)}
          change={(units) => say({ units })}
        />
        <Choose
          label="Up is"
          fact={u.up}
          own={choices.up}
          options={axes.map((a) => [a, a.toUpperCase()])}
          change={(up) => say({ up })}
        />
        <Words
          label="The serve goes towards"
          fact={u.forward}
          own={choices.forward}
          change={(forward) => say({ forward })}
        />
        <NumberFact
          label="Height of the player"
          unit="m"
          fact={u.height_m}
          own={choices.height_m}
          change={(height_m) => say({ height_m })}
        />
      </div>
      <Serves u={u} />
      <p class="found quietly">{landmarkWords(u)}</p>
      <Landmarks u={u} own={choices.map ?? {}} change={(map) => say({ map })} />
      {u.notes && u.notes.length > 0 && (
        <ul class="notes">
          {u.notes
            .filter((n) => n.severity !== 'fail')
            .map((n) => (
              <li key={n.text + n.where} class={n.severity}>
                {n.where && `${n.where}: `}
                {n.text}
              </li>
            ))}
        </ul>
      )}
    </>
  );
}

function landmarkWords(u: Understanding): string {
  const found = u.landmarks.found?.length ?? 0;
  const missing = u.landmarks.missing ?? [];
  const racket = missing.filter((m) => m.startsWith('racket_') || m === 'ball');
  const parts = [`${count(found, 'landmark')} found`];
  if (racket.length >= 5) parts.push('no racket or ball, so the hand stands in for them');
  const body = missing.filter((m) => !racket.includes(m));
  if (body.length > 0) parts.push(`not there: ${body.map(plain).join(', ')}`);
  return `${parts.join('; ')}.`;
}

/** What the file has under other names, to be taken for landmarks that were not found. */
function Landmarks({
  u,
  own,
  change,
}: {
  u: Understanding;
  own: Record<string, string>;
  change: (map: Record<string, string>) => void;
}) {
  const names = u.landmarks.unknown ?? [];
  const lacking = [...new Set([...Object.keys(own), ...(u.landmarks.missing ?? [])])];
  if (lacking.length === 0 || (names.length === 0 && Object.keys(own).length === 0)) return null;
  const say = (landmark: string, text: string) => {
    const { [landmark]: _, ...others } = own;
    change(text.trim() ? { ...others, [landmark]: text.trim() } : others);
  };
  return (
    <details class="found landmarks">
      <summary>Say what is what: {count(names.length, 'point')} of the file under other names</summary>
      <p class="quietly">
        One name of the file for a landmark, or the middle of several: middle(LKNE, LKNM). It is kept for the next file
        with the same names.
      </p>
      <div class="understood">
        {lacking.map((l) => (
          <label key={l}>
            {plain(l)}
            <input
              list={`points-${u.recording}`}
              value={own[l] ?? ''}
              onChange={(e) => say(l, e.currentTarget.value)}
            />
          </label>
        ))}
      </div>
      <datalist id={`points-${u.recording}`}>
        {names.map((n) => (
          <option key={n} value={n} />
        ))}
      </datalist>
    </details>
  );
}

/** The serves of a recording along its time. */
function Serves({ u }: { u: Understanding }) {
  const serves = u.serves ?? [];
  const whole = serves.filter((s) => !s.cut_off).length;
  const cut = serves.length - whole;
  const x = (t: number) => (t / Math.max(u.duration_s, 0.1)) * 800;
  return (
    <div class="found">
      <p>
        {serves.length === 0
          ? 'No serve was found in it.'
          : `${count(whole, 'serve')} found${cut > 0 ? `, and ${cut} cut off by an end of the recording` : ''}.`}
      </p>
      {serves.length > 0 && (
        <svg
          viewBox="0 0 800 34"
          preserveAspectRatio="none"
          role="img"
          aria-label="Where in the recording the serves are"
        >
          <line
            x1="0"
            x2="800"
            y1="17"
            y2="17"
            stroke="var(--rule)"
            stroke-width="1"
            vector-effect="non-scaling-stroke"
          />
          {serves.map((s) => (
            <Span key={s.from_s} s={s} x={x} />
          ))}
        </svg>
      )}
    </div>
  );
}

function Span({ s, x }: { s: ServeFound; x: (t: number) => number }) {
  return (
    <g>
      <title>{`${number(s.from_s, 1)} to ${number(s.to_s, 1)} s${s.why ? `: ${s.why}` : ''}`}</title>
      <rect
        x={x(s.from_s)}
        width={Math.max(2, x(s.to_s) - x(s.from_s))}
        y="8"
        height="18"
        rx="3"
        fill={s.cut_off ? 'var(--line)' : 'var(--court)'}
        opacity={s.cut_off ? 1 : 0.3}
      />
      {s.contact_s !== null && (
        <line
          x1={x(s.contact_s)}
          x2={x(s.contact_s)}
          y1="4"
          y2="30"
          stroke="var(--clay)"
          stroke-width="2"
          vector-effect="non-scaling-stroke"
        />
      )}
    </g>
  );
}

const grounds: Record<Fact<unknown>['source'], string> = {
  said: 'as you said',
  file: 'from the file',
  guessed: 'guessed',
  unknown: 'not known',
};

interface FieldProps {
  label: string;
  fact: Fact<unknown>;
  control: (named: { id: string; 'aria-describedby': string }) => JSX.Element;
}

/** A control with its name, and under it the grounds for what it shows. */
function Field({ label, fact, control }: FieldProps) {
  const id = useId();
  return (
    <div class="fact">
      <label for={id}>{label}</label>
      {control({ id, 'aria-describedby': `${id}-why` })}
      <small id={`${id}-why`}>
        {fact.evidence ? `${grounds[fact.source]}: ${fact.evidence}` : grounds[fact.source]}
      </small>
    </div>
  );
}

function Words({
  label,
  fact,
  own,
  change,
  list,
  type = 'text',
}: {
  label: string;
  fact: Fact<string>;
  own: string | undefined;
  change: (v: string) => void;
  list?: string;
  type?: 'text' | 'date';
}) {
  return (
    <Field
      label={label}
      fact={fact}
      control={(named) => (
        <input
          {...named}
          type={type}
          list={list}
          value={own ?? fact.value ?? ''}
          onChange={(e) => change(e.currentTarget.value)}
        />
      )}
    />
  );
}

function NumberFact({
  label,
  unit,
  fact,
  own,
  change,
}: {
  label: string;
  unit: string;
  fact: Fact<number>;
  own: number | undefined;
  change: (v: number) => void;
}) {
  return (
    <Field
      label={`${label}, ${unit}`}
      fact={fact}
      control={(named) => (
        <input
          {...named}
          type="number"
          step="any"
          min="0"
          value={own ?? (fact.value || '')}
          onChange={(e) => change(e.currentTarget.valueAsNumber || 0)}
        />
      )}
    />
  );
}

function Choose({
  label,
  fact,
  own,
  options,
  change,
}: {
  label: string;
  fact: Fact<string>;
  own: string | undefined;
  options: [string, string][];
  change: (v: string) => void;
}) {
  const value = own ?? fact.value ?? '';
  return (
    <Field
      label={label}
      fact={fact}
      control={(named) => (
        <select {...named} value={value} onChange={(e) => change(e.currentTarget.value)}>
          {!options.some(([v]) => v === value) && <option value={value}>{value || 'choose'}</option>}
          {options.map(([v, name]) => (
            <option key={v} value={v}>
              {name}
            </option>
          ))}
        </select>
      )}
    />
  );
}
