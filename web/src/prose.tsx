// Go doc comment text as the page shows it: paragraphs, headings, lists, code and links. Everything is text; nothing
// of a recipe ever becomes markup.
import type { ComponentChildren, JSX } from 'preact';
import { unbroken } from './words';

type Block = { kind: 'p' | 'h' | 'code'; text: string } | { kind: 'ul' | 'ol'; items: string[] };

const bullet = /^\s+[-*+•]\s+/;
const numbered = /^\s+\d+[.)]\s+/;

/** Take doc comment text to pieces, by the rules of go.dev/doc/comment. */
export function blocks(text: string): Block[] {
  const found: Block[] = [];
  const defined = /^\[[^\]]+\]:\s/;
  for (const part of text.split(/\n\s*\n/)) {
    const lines = part.split('\n').filter((l) => l.trim() && !defined.test(l));
    const first = lines[0];
    if (first === undefined) continue;
    if (lines.length === 1 && first.startsWith('# ')) found.push({ kind: 'h', text: first.slice(2) });
    else if (bullet.test(first) || numbered.test(first)) addList(found, lines);
    else if (lines.every((l) => /^\s/.test(l))) found.push({ kind: 'code', text: unindent(lines) });
    else found.push({ kind: 'p', text: lines.map((l) => l.trim()).join(' ') });
  }
  return found;
}

function addList(found: Block[], lines: string[]): void {
  const kind = bullet.test(lines[0] ?? '') ? 'ul' : 'ol';
  const items: string[] = [];
  for (const line of lines) {
    const mark = kind === 'ul' ? bullet : numbered;
    if (mark.test(line)) items.push(line.replace(mark, ''));
    else items[items.length - 1] += ` ${line.trim()}`;
  }
  const last = found[found.length - 1];
  if (last && last.kind === kind) (last as { items: string[] }).items.push(...items);
  else found.push({ kind, items });
}

function unindent(lines: string[]): string {
  const indent = Math.min(...lines.map((l) => l.length - l.trimStart().length));
  return lines.map((l) => l.slice(indent)).join('\n');
}

/** Straight apostrophes become curved ones, and numbers keep their units. */
const set = (text: string) => unbroken(text.replace(/(?<=\w)'/g, '’'));

/** Text with its links: [Step] goes to that step, a web address opens in a new window. */
function inline(text: string): ComponentChildren[] {
  const parts: ComponentChildren[] = [];
  let from = 0;
  for (const m of text.matchAll(/\[([A-Z]\w*)\]|\bhttps?:\/\/[^\s<>()]*[^\s<>().,;:!?]/g)) {
    parts.push(set(text.slice(from, m.index)));
    from = m.index + m[0].length;
    parts.push(
      m[1] ? (
        <a href={`#${m[1]}`} onClick={jump(m[1])}>
          {m[1]}
        </a>
      ) : (
        <a href={m[0]} target="_blank" rel="noreferrer">
          {m[0]}
        </a>
      ),
    );
  }
  parts.push(set(text.slice(from)));
  return parts;
}

const jump = (id: string) => (event: Event) => {
  event.preventDefault();
  document.getElementById(id)?.scrollIntoView();
};

function show(b: Block): JSX.Element {
  switch (b.kind) {
    case 'h':
      return <h3>{b.text}</h3>;
    case 'code':
      return <pre>{b.text}</pre>;
    case 'ul':
      return (
        <ul>
          {b.items.map((i) => (
            <li>{inline(i)}</li>
          ))}
        </ul>
      );
    case 'ol':
      return (
        <ol>
          {b.items.map((i) => (
            <li>{inline(i)}</li>
          ))}
        </ol>
      );
    case 'p':
      return <p>{inline(b.text)}</p>;
  }
}

export function Prose({ text }: { text: string | undefined }) {
  if (!text?.trim()) return null;
  return <div class="prose">{blocks(text).map(show)}</div>;
}
