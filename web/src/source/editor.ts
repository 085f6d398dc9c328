// The editor of a recipe's Go file, with the language service of the server behind it.
import {
  autocompletion,
  closeBrackets,
  closeBracketsKeymap,
  completionKeymap,
  type CompletionContext,
  type CompletionResult,
} from '@codemirror/autocomplete';
import { defaultKeymap, history, historyKeymap, indentWithTab } from '@codemirror/commands';
import { go } from '@codemirror/lang-go';
import { bracketMatching, indentUnit } from '@codemirror/language';
import { lintGutter, lintKeymap, setDiagnostics, type Diagnostic as Mark } from '@codemirror/lint';
import { highlightSelectionMatches, searchKeymap } from '@codemirror/search';
import { EditorState, RangeSetBuilder, StateEffect, StateField, Transaction, type Text } from '@codemirror/state';
import {
  Decoration,
  drawSelection,
  EditorView,
  highlightActiveLine,
  hoverTooltip,
  keymap,
  lineNumbers,
  showTooltip,
  type DecorationSet,
  type Tooltip,
  type ViewUpdate,
} from '@codemirror/view';
import { link } from '../link';
import type { Completions, Definition, Diagnostic, Hover, Signature } from '../protocol';
import { theme } from './theme';

export interface Hooks {
  recipe: () => string;
  changed: (source: string) => void;
  moved: (line: number) => void;
  save: () => void;
}

const showStep = StateEffect.define<{ first: number; last: number } | null>();

const stepLines = StateField.define<DecorationSet>({
  create: () => Decoration.none,
  update(marks, tr) {
    for (const e of tr.effects) if (e.is(showStep)) return lines(tr.state.doc, e.value);
    return marks.map(tr.changes);
  },
  provide: (f) => EditorView.decorations.from(f),
});

function lines(doc: Text, range: { first: number; last: number } | null): DecorationSet {
  const b = new RangeSetBuilder<Decoration>();
  for (let n = range?.first ?? 1; range && n <= Math.min(range.last, doc.lines); n++) {
    const from = doc.line(n).from;
    b.add(from, from, Decoration.line({ class: 'cm-step-here' }));
  }
  return b.finish();
}

const showCall = StateEffect.define<Tooltip | null>();

/** How the function that is called around the cursor is called. */
const call = StateField.define<Tooltip | null>({
  create: () => null,
  update(now, tr) {
    for (const e of tr.effects) if (e.is(showCall)) return e.value;
    return now && tr.docChanged ? { ...now, pos: tr.changes.mapPos(now.pos) } : now;
  },
  provide: (f) => showTooltip.from(f),
});

function callTooltip(pos: number, s: Signature): Tooltip {
  return {
    pos,
    above: true,
    create: () => {
      const dom = document.createElement('div');
      dom.className = 'cm-said';
      const line = dom.appendChild(document.createElement('code'));
      const active = s.params?.[s.active];
      const at = active ? s.label.indexOf(active, s.label.indexOf('(')) : -1;
      if (active && at >= 0) {
        const strong = document.createElement('b');
        strong.textContent = active;
        line.append(s.label.slice(0, at), strong, s.label.slice(at + active.length));
      } else line.textContent = s.label;
      if (s.doc) dom.appendChild(document.createElement('p')).textContent = s.doc;
      return { dom };
    },
  };
}

const external = Transaction.userEvent.of('external');

/** Byte offsets are what Go counts; positions of the editor are UTF-16. */
export const bytesOf = (text: string): number => new TextEncoder().encode(text).length;
export function charsOf(text: string, bytes: number): number {
  return new TextDecoder().decode(new TextEncoder().encode(text).slice(0, bytes)).length;
}

export class Editor {
  readonly view: EditorView;

  constructor(
    parent: HTMLElement,
    source: string,
    private hooks: Hooks,
  ) {
    const nonce = document.querySelector<HTMLMetaElement>('meta[property=csp-nonce]')?.nonce ?? '';
    const saving = { key: 'Mod-s', run: () => (hooks.save(), true), preventDefault: true };
    const running = { key: 'Mod-Enter', run: () => (hooks.save(), true), preventDefault: true };
    const leaving = { key: 'Escape', run: (v: EditorView) => this.closeCall(v) };
    const declared = {
      key: 'Alt-Enter',
      run: (v: EditorView) => (void this.toDeclaration(v.state.selection.main.head), true),
    };
    this.view = new EditorView({
      parent,
      state: EditorState.create({
        doc: source,
        extensions: [
          EditorView.cspNonce.of(nonce),
          theme,
          stepLines,
          lintGutter(),
          lineNumbers(),
          history(),
          drawSelection(),
          highlightActiveLine(),
          bracketMatching(),
          closeBrackets(),
          highlightSelectionMatches(),
          EditorView.lineWrapping,
          indentUnit.of('\t'),
          EditorState.tabSize.of(4),
          go(),
          autocompletion({ override: [(c) => this.complete(c)], icons: false }),
          hoverTooltip((v, pos) => this.hover(v, pos)),
          call,
          EditorView.domEventHandlers({
            click: (e, v) => {
              const pos = e.ctrlKey || e.metaKey ? v.posAtCoords({ x: e.clientX, y: e.clientY }) : null;
              if (pos !== null) void this.toDeclaration(pos);
            },
          }),
          EditorView.contentAttributes.of({
            'aria-label': 'Source of the recipe. Escape, then Tab, leads out of it.',
            tabindex: '0',
          }),
          EditorView.updateListener.of((u) => {
            const own = !u.transactions.some((tr) => tr.isUserEvent('external'));
            if (u.docChanged && own) hooks.changed(u.state.doc.toString());
            if (own) this.followCall(u);
            if (u.selectionSet || u.docChanged) hooks.moved(u.state.doc.lineAt(u.state.selection.main.head).number);
          }),
          keymap.of([
            saving,
            running,
            declared,
            leaving,
            ...closeBracketsKeymap,
            ...completionKeymap,
            ...lintKeymap,
            ...searchKeymap,
            ...historyKeymap,
            ...defaultKeymap,
            indentWithTab,
          ]),
        ],
      }),
    });
  }

  get source(): string {
    return this.view.state.doc.toString();
  }

  /** Take another text, changing as little as possible, so that cursor, undo and scroll position stay. */
  replace(source: string): void {
    const from = this.source;
    if (from === source) return;
    let a = 0,
      b = 0;
    while (a < from.length && a < source.length && from[a] === source[a]) a++;
    while (b < from.length - a && b < source.length - a && from[from.length - 1 - b] === source[source.length - 1 - b])
      b++;
    this.view.dispatch({
      changes: { from: a, to: from.length - b, insert: source.slice(a, source.length - b) },
      annotations: external,
    });
  }

  /** Put the checker's remarks into the margin. */
  mark(list: Diagnostic[]): void {
    const doc = this.view.state.doc;
    const place = (line: number, column: number) => {
      const l = doc.line(Math.min(Math.max(line, 1), doc.lines));
      return Math.min(l.from + charsOf(l.text, Math.max(column - 1, 0)), l.to);
    };
    const marks = list.map((d): Mark => {
      const from = place(d.line, d.column);
      const word = /^[\w.]+/.exec(doc.sliceString(from, doc.lineAt(from).to))?.[0].length ?? 1;
      const to = d.end_line ? place(d.end_line, d.end_column ?? 1) : Math.min(from + word, doc.lineAt(from).to);
      return { from: Math.min(from, to), to: Math.max(from, to), severity: d.severity, message: d.message };
    });
    this.view.dispatch(setDiagnostics(this.view.state, marks));
  }

  /** Mark the lines of a step; where scroll is set, show them. */
  showStep(range: { first: number; last: number } | null, scroll: boolean): void {
    const effects: StateEffect<unknown>[] = [showStep.of(range)];
    if (range && scroll) {
      const at = this.view.state.doc.line(Math.min(range.first, this.view.state.doc.lines)).from;
      effects.push(EditorView.scrollIntoView(at, { y: 'start', yMargin: 40 }));
    }
    this.view.dispatch({ effects });
  }

  goTo(line: number, column = 1): void {
    const l = this.view.state.doc.line(Math.min(Math.max(line, 1), this.view.state.doc.lines));
    this.view.dispatch({
      selection: { anchor: Math.min(l.from + charsOf(l.text, column - 1), l.to) },
      effects: EditorView.scrollIntoView(l.from, { y: 'center' }),
    });
    this.view.focus();
  }

  close(): void {
    clearTimeout(this.asking);
    this.view.destroy();
  }

  private async complete(c: CompletionContext): Promise<CompletionResult | null> {
    if (!c.explicit && !c.matchBefore(/[\w."/]$/)) return null;
    const source = c.state.doc.toString();
    const found = await link
      .ask<Completions>('complete', { recipe: this.hooks.recipe(), source, offset: bytesOf(source.slice(0, c.pos)) })
      .catch(() => null);
    if (c.aborted || !found?.items?.length) return null;
    return {
      from: charsOf(source, found.from),
      options: found.items.map((i) => ({ label: i.label, detail: i.detail, info: i.doc || undefined, type: i.kind })),
      validFor: /^[\w/]*$/,
    };
  }

  private asking: ReturnType<typeof setTimeout> | undefined;

  /** Show how a function is called from its bracket on, until the cursor leaves the call. */
  private followCall(u: ViewUpdate): void {
    let begun = u.state.field(call) !== null;
    u.changes.iterChanges((_a, _b, _c, _d, put) => {
      begun ||= /[(,]/.test(put.toString());
    });
    if (!begun || !(u.docChanged || u.selectionSet)) return;
    clearTimeout(this.asking);
    this.asking = setTimeout(async () => {
      const { state } = this.view,
        pos = state.selection.main.head,
        source = state.doc.toString();
      const found = await link
        .ask<Signature>('signature', { recipe: this.hooks.recipe(), source, offset: bytesOf(source.slice(0, pos)) })
        .catch(() => null);
      if (this.view.state !== state && this.view.state.doc !== state.doc) return; // typed on meanwhile
      this.view.dispatch({ effects: showCall.of(found?.label ? callTooltip(pos, found) : null) });
    }, 80);
  }

  private closeCall(view: EditorView): boolean {
    if (!view.state.field(call)) return false;
    view.dispatch({ effects: showCall.of(null) });
    return true;
  }

  /** Go where the recipe declares what stands at a position. */
  private async toDeclaration(pos: number): Promise<void> {
    const source = this.view.state.doc.toString();
    const found = await link
      .ask<Definition>('definition', { recipe: this.hooks.recipe(), source, offset: bytesOf(source.slice(0, pos)) })
      .catch(() => null);
    if (found?.line) this.goTo(found.line, found.column);
  }

  private async hover(view: EditorView, pos: number) {
    const source = view.state.doc.toString();
    const found = await link
      .ask<Hover>('hover', { recipe: this.hooks.recipe(), source, offset: bytesOf(source.slice(0, pos)) })
      .catch(() => null);
    if (!found?.text) return null;
    return {
      pos: charsOf(source, found.from),
      end: charsOf(source, found.to),
      create: () => {
        const dom = document.createElement('p');
        dom.className = 'cm-said';
        dom.textContent = found.text;
        return { dom };
      },
    };
  }
}
