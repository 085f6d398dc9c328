// The recipe as a document: head, settings, steps, and what stands at its foot.
import { useEffect } from 'preact/hooks';
import { address, go } from './address';
import {
  allow,
  chosenPlayer,
  ended,
  failure,
  plan,
  plannedSteps,
  problems,
  progress,
  recipe,
  run,
  running,
  stop,
  text,
  unread,
} from './desk';
import { Empty } from './empty';
import { get } from './link';
import { Menu } from './parts/menu';
import { fileName, saveBlob } from './parts/save';
import { Prose } from './prose';
import { say } from './say';
import { season, shelf } from './season';
import { Selected } from './selected';
import { Settings } from './settings';
import { Step } from './step';
import { day, left } from './words';

export function Recipe() {
  const title = plan.value?.title ?? shelf.value.find((e) => e.recipe === recipe.value)?.title ?? recipe.value;
  useEffect(() => {
    document.title = title ? `${title} · ${season.value?.name ?? 'Tossline'}` : 'Tossline';
  }, [title]);
  if (failure.value) return <Failed />;
  if (unread.value) return <Unread />;
  if (season.value?.players.length === 0) return <Empty />;
  return (
    <main class="recipe" id="recipe" tabIndex={-1}>
      <header class="head">
        <Tools />
        <h1>{title}</h1>
        <Prose text={plan.value?.prose} />
        <Trouble />
        <Settings />
      </header>
      {plannedSteps.value.map((s) => (
        <Step key={s.name} plan={s} />
      ))}
      <Selected />
      <Progress />
      <FootNote />
    </main>
  );
}

function Tools() {
  const open = address.value.source,
    player = chosenPlayer.value || address.value.player;
  const save = [
    { name: 'Document (HTML)', run: () => saveDocument().catch((e: Error) => say(e.message)) },
    ...(player
      ? [{ name: `Report of ${player} (HTML)`, run: () => saveReport(player).catch((e: Error) => say(e.message)) }]
      : []),
    {
      name: 'Recipe file (Go)',
      run: () => saveBlob(new Blob([text.peek().source], { type: 'text/plain' }), `${recipe.peek()}.go`),
    },
    { name: 'Print', run: () => print() },
  ];
  return (
    <div class="head-tools">
      <span class="where">
        {season.value?.name}
        {season.value?.from && `, ${span(season.value.from, season.value.to ?? season.value.from)}`}
      </span>
      {running.value ? (
        <button type="button" class="link" onClick={() => void stop()}>
          Stop
        </button>
      ) : (
        <button type="button" class="link" onClick={() => void run()}>
          Run
        </button>
      )}
      <Menu name="Save" items={save} below />
      <button
        type="button"
        class="link"
        aria-pressed={open}
        onClick={() => go({ source: !open, serve: '', beside: '' })}
      >
        Source
      </button>
    </div>
  );
}

const span = (from: string, to: string) => (from === to ? day(from) : `${day(from, to.slice(0, 4))} to ${day(to)}`);

async function saveDocument(): Promise<void> {
  saveBlob(await get(`/document/${recipe.peek()}`), `${fileName(plan.peek()?.title ?? recipe.peek())}.html`);
}

async function saveReport(player: string): Promise<void> {
  const title = plan.peek()?.title ?? recipe.peek();
  saveBlob(await get(`/report/${recipe.peek()}?${new URLSearchParams({ player })}`), `${fileName(player, title)}.html`);
}

/** What keeps the recipe from running as a whole. */
function Trouble() {
  const first = problems.value.find((d) => d.severity === 'error');
  if (first) {
    return (
      <div class="notice" role="alert">
        <p>
          Line {first.line}: {first.message}
        </p>
        {!address.value.source && (
          <button type="button" class="act" onClick={() => go({ source: true, serve: '' })}>
            Show the source
          </button>
        )}
      </div>
    );
  }
  if (!ended.value) return null;
  return (
    <div class="notice" role="status">
      <p>{ended.value}</p>
      <button type="button" class="act" onClick={() => void run()}>
        Run again
      </button>
    </div>
  );
}

function Progress() {
  const p = progress.value;
  if (!running.value || !p || p.total <= 0) return null;
  const title = plannedSteps.value.find((s) => s.name === p.step)?.title ?? p.step;
  return (
    <div class="progress" role="status">
      <span>{title}</span>
      <progress max={p.total} value={p.done} aria-label={`${title}: how far it is`} />
      <span>
        {p.done.toLocaleString('en')} of {p.total.toLocaleString('en')}
        {p.left_s ? `, ${left(p.left_s)}` : ''}
      </span>
      <button type="button" class="act" onClick={() => void stop()}>
        Stop
      </button>
    </div>
  );
}

export function FootNote() {
  return (
    <footer class="foot-note">
      <p>
        Technique numbers describe; they do not diagnose. Pain is for a licensed clinician, and workloads of minors
        follow the national body’s rules. Recordings of minors are personal data: they stay on this machine.
      </p>
    </footer>
  );
}

/** A recipe from elsewhere: read first, then allowed or not. */
function Unread() {
  const u = unread.value;
  return (
    <main class="recipe unread" id="recipe" tabIndex={-1}>
      <header class="head">
        <h1>Read it before it runs</h1>
        <div class="prose">
          <p>
            This season has not run {recipe.value}.go in this form before. It will run shut off from your files and the
            network, over this season only. Read what it does, then decide.
          </p>
        </div>
        <dl>
          {u?.by && (
            <>
              <dt>It says it is from</dt>
              <dd>{u.by}</dd>
            </>
          )}
          <dt>It uses</dt>
          <dd>{(u?.imports ?? []).join(', ') || 'nothing'}</dd>
        </dl>
        <div class="acts">
          <button type="button" class="act first" onClick={() => allow().catch((e: Error) => say(e.message))}>
            Allow it to run
          </button>
          <button type="button" class="act" onClick={() => go({ recipe: '' })}>
            Not now
          </button>
        </div>
      </header>
      <pre tabIndex={0} aria-label="Source of the recipe">
        {text.value.source}
      </pre>
    </main>
  );
}

function Failed() {
  return (
    <main class="recipe" id="recipe" tabIndex={-1}>
      <h1 class="shut">This recipe cannot be opened</h1>
      <div class="prose">
        <p>{failure.value}</p>
      </div>
    </main>
  );
}
