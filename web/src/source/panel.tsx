// The source at the side: the editor, whether its text is saved, and what is wrong with it.
import { effect, signal } from '@preact/signals';
import { useEffect, useRef, useState } from 'preact/hooks';
import { address, go } from '../address';
import { plannedSteps, problems, recipe, stepAt, text } from '../desk';
import { link } from '../link';
import { Menu } from '../parts/menu';
import type { Version } from '../protocol';
import { say } from '../say';
import type { Editor } from './editor';

const pause = 650; // ms without a key before an edit runs
const automatic = signal(true);

type Saving = 'saved' | 'edited' | 'saving' | 'elsewhere';

export function Source() {
  const box = useRef<HTMLDivElement>(null);
  const desk = useRef<SourceDesk | null>(null);
  const [saving, setSaving] = useState<Saving>('saved');

  useEffect(() => {
    let gone = false;
    let stop = () => {};
    void import('./editor').then(({ Editor }) => {
      if (gone || !box.current) return;
      const d = new SourceDesk((hooks) => new Editor(box.current as HTMLElement, text.peek().source, hooks), setSaving);
      desk.current = d;
      stop = d.follow();
    });
    return () => {
      gone = true;
      stop();
    };
  }, []);

  return (
    <section class="side" aria-label="Source of the recipe">
      <header class="side-head">
        <h2>{recipe.value}.go</h2>
        <span class="quietly" role="status">
          {words(saving)}
        </span>
        <label>
          <input
            type="checkbox"
            checked={automatic.value}
            onChange={(e) => {
              automatic.value = e.currentTarget.checked;
            }}
          />
          run edits
        </label>
        <button type="button" class="link" onClick={() => desk.current?.save(true)}>
          Run
        </button>
        <Versions take={(source) => desk.current?.bring(source)} />
        <button type="button" class="close" aria-label="Close the source" onClick={() => go({ source: false })}>
          ×
        </button>
      </header>
      {saving === 'elsewhere' && (
        <div class="notice">
          <p>This recipe was changed elsewhere while you were writing.</p>
          <button type="button" class="act" onClick={() => desk.current?.settle(false)}>
            Take that text
          </button>
          <button type="button" class="act" onClick={() => desk.current?.settle(true)}>
            Keep mine
          </button>
        </div>
      )}
      <div class="editor" ref={box} />
      <Problems show={(line, column) => desk.current?.editor.goTo(line, column)} />
    </section>
  );
}

function words(s: Saving): string {
  if (s === 'edited') return 'edited';
  if (s === 'saving') return 'saving';
  if (s === 'elsewhere') return '';
  const at = text.value.saved;
  return at
    ? `saved ${new Date(at).toLocaleTimeString('en-GB', { hour: '2-digit', minute: '2-digit' })}`
    : 'as shipped';
}

function Problems({ show }: { show: (line: number, column: number) => void }) {
  const list = problems.value;
  if (list.length === 0) return null;
  return (
    <ul class="problems" aria-label="What is wrong">
      {list.map((d) => (
        <li key={`${d.line}:${d.column}:${d.message}`}>
          <button type="button" onClick={() => show(d.line, d.column)}>
            <span class="at">
              {d.line}:{d.column}
            </span>
            <span class={d.severity}>{d.message}</span>
          </button>
        </li>
      ))}
    </ul>
  );
}

/** Texts of this recipe that ran before, to be brought back. */
function Versions({ take }: { take: (source: string) => void }) {
  const [list, setList] = useState<Version[]>([]);
  useEffect(() => {
    link.ask<Version[] | null>('versions', { recipe: recipe.peek() }).then(
      (v) => setList(v ?? []),
      () => setList([]),
    );
  }, [text.value.revision]);
  if (list.length < 2) return null;
  const bring = (v: Version) =>
    link.ask<{ source: string }>('version', { recipe: recipe.peek(), revision: v.sha256 }).then(
      (got) => take(got.source),
      (e: Error) => say(e.message),
    );
  return (
    <Menu
      name="Earlier"
      below
      items={list.slice(0, 12).map((v) => ({
        name: `${new Date(v.at).toLocaleString('en-GB', { dateStyle: 'medium', timeStyle: 'short' })}`,
        run: () => bring(v),
      }))}
    />
  );
}

/** Keeps the editor, the server's text and the marked step together. */
class SourceDesk {
  readonly editor: Editor;
  private base = text.peek().revision; // the text that the editor's text grew from
  private timer: ReturnType<typeof setTimeout> | undefined;
  private dirty = false;
  private busy = false;
  private markedByCursor = '';

  constructor(
    make: (hooks: ConstructorParameters<typeof Editor>[2]) => Editor,
    private tell: (s: Saving) => void,
  ) {
    this.editor = make({
      recipe: () => recipe.peek(),
      changed: () => this.changed(),
      moved: (line) => this.moved(line),
      save: () => void this.save(true),
    });
  }

  /** Follow what the server tells, until the returned function is called. */
  follow(): () => void {
    const stops = [
      effect(() => this.take(text.value)),
      effect(() => this.editor.mark(problems.value)),
      effect(() => {
        const name = address.value.step;
        const step = plannedSteps.value.find((s) => s.name === name);
        this.editor.showStep(step ?? null, name !== this.markedByCursor);
        this.markedByCursor = name;
      }),
    ];
    return () => {
      for (const stop of stops) stop();
      clearTimeout(this.timer);
      if (this.dirty) void this.save(false);
      this.editor.close();
    };
  }

  private take(now: { source: string; revision: string }): void {
    if (now.revision === this.base || this.busy) return;
    if (this.dirty && now.source !== this.editor.source) {
      this.tell('elsewhere');
      return;
    }
    this.base = now.revision;
    this.dirty = false;
    this.editor.replace(now.source);
    this.tell('saved');
  }

  private changed(): void {
    this.dirty = true;
    this.tell('edited');
    clearTimeout(this.timer);
    if (automatic.peek()) this.timer = setTimeout(() => void this.save(false), pause);
  }

  private moved(line: number): void {
    const step = stepAt(line);
    if (!step || step === address.peek().step) return;
    this.markedByCursor = step;
    go({ step });
    document.getElementById(step)?.scrollIntoView({ block: 'nearest' });
  }

  /** Save and run. format puts the text into the shape of gofmt first, where it can be read as Go. */
  async save(format: boolean): Promise<void> {
    clearTimeout(this.timer);
    if (this.busy) {
      this.timer = setTimeout(() => void this.save(format), 60);
      return;
    }
    this.busy = true;
    this.tell('saving');
    try {
      if (format) await this.format();
      const source = this.editor.source;
      const answer = await link.ask<{ revision: string }>('edit', {
        recipe: recipe.peek(),
        source,
        revision: this.base,
        run: true,
      });
      this.base = answer.revision;
      this.dirty = this.editor.source !== source;
      this.tell(this.dirty ? 'edited' : 'saved');
    } catch (e) {
      if (text.peek().revision !== this.base) this.tell('elsewhere');
      else {
        this.tell('edited');
        say((e as Error).message);
      }
    } finally {
      this.busy = false;
    }
  }

  private async format(): Promise<void> {
    const before = this.editor.source;
    const got = await link
      .ask<{ source: string }>('format', { recipe: recipe.peek(), source: before })
      .catch(() => null);
    if (got?.source && this.editor.source === before) this.editor.replace(got.source);
  }

  /** Put another text into the editor as an edit that can be undone. */
  bring(source: string): void {
    this.editor.view.dispatch({ changes: { from: 0, to: this.editor.view.state.doc.length, insert: source } });
  }

  /** End a conflict: keep this text, or take the one from elsewhere. */
  settle(mine: boolean): void {
    this.base = text.peek().revision;
    if (mine) {
      void this.save(false);
      return;
    }
    this.dirty = false;
    this.editor.replace(text.peek().source);
    this.tell('saved');
  }
}
