// The files that were dropped: uploaded, previewed, corrected, imported.
import { signal } from '@preact/signals';
import { go } from '../address';
import { Link, link } from '../link';
import { say } from '../say';
import { count } from '../words';
import {
  brings,
  obstacle,
  type Brought,
  type Choices,
  type Understanding,
  type Whole,
} from './understanding';

export interface Incoming {
  id: number;
  name: string;
  upload: string;
  state: 'sending' | 'reading' | 'ready' | 'storing' | 'stored' | 'failed';
  done: number; // 0 to 1 of the state that goes on
  understanding?: Understanding; // of a recording
  brought?: Brought; // of a table of what is known beside recordings
  whole?: Whole; // of a table of any other content
  why?: string; // that is no recording
  keepAs: string; // the name of such a table, '' until somebody gives one: it may be a recording that is damaged
  choices: Choices;
  error?: string;
}

export const incoming = signal<Incoming[]>([]);
let next = 0;

const change = (id: number, what: Partial<Incoming>) => {
  incoming.value = incoming.value.map((f) => (f.id === id ? { ...f, ...what } : f));
};
const find = (id: number) => incoming.peek().find((f) => f.id === id);

export function listen(): void {
  link.on('intake', (p) => {
    const f = incoming.peek().find((i) => i.upload === p.upload);
    if (f) change(f.id, { done: p.total > 0 ? p.done / p.total : 0 });
  });
}

/** Take files that were dropped or chosen: Go files are recipes, all others recordings. */
export function takeFiles(files: Iterable<File>): void {
  for (const file of files) {
    if (file.name.endsWith('.go')) void addRecipe(file);
    else void takeRecording(file);
  }
}

async function addRecipe(file: File): Promise<void> {
  try {
    if (file.size > 1 << 20) throw new Error(`${file.name} is larger than a recipe may be (1 MiB).`);
    const { recipe } = await link.ask<{ recipe: string }>('add', { name: file.name, source: await file.text() });
    go({ recipe, step: '', serve: '', beside: '' });
  } catch (e) {
    say((e as Error).message);
  }
}

async function takeRecording(file: File): Promise<void> {
  const id = ++next;
  incoming.value = [...incoming.value, { id, name: file.name, upload: '', state: 'sending', done: 0, choices: {}, keepAs: '' }];
  try {
    const upload = await send(id, file);
    change(id, { upload });
    await preview(id);
  } catch (e) {
    change(id, { state: 'failed', error: (e as Error).message });
  }
}

const onTheWay = new Map<number, XMLHttpRequest>();

/** Upload by XMLHttpRequest, which tells how far it is. */
function send(id: number, file: File): Promise<string> {
  return new Promise((done, fail) => {
    const x = new XMLHttpRequest();
    onTheWay.set(id, x);
    x.onloadend = () => onTheWay.delete(id);
    x.open('POST', '/upload');
    x.setRequestHeader('X-Tossline-Key', Link.key());
    x.setRequestHeader('X-Tossline-Name', encodeURIComponent(file.name));
    x.setRequestHeader('Content-Type', 'application/octet-stream');
    x.upload.onprogress = (e) => e.lengthComputable && change(id, { done: e.loaded / e.total });
    x.onload = () =>
      x.status === 200
        ? done((JSON.parse(x.responseText) as { upload: string }).upload)
        : fail(new Error(x.responseText.trim()));
    x.onerror = () =>
      fail(new Error(`${file.name} could not be read; a folder cannot be dropped, drop the files in it.`));
    x.send(file);
  });
}

let timers = new Map<number, ReturnType<typeof setTimeout>>();

/** What a preview tells: of a recording, of a table of what is known, of any other table. */
type Read = Understanding | { brought: Brought } | { whole: Whole; why: string };

async function preview(id: number): Promise<void> {
  const f = find(id);
  if (!f) return;
  change(id, { state: 'reading', done: 0, error: undefined });
  const choices = f.choices;
  try {
    const read = await link.ask<Read>('preview', { upload: f.upload, choices });
    if (find(id)?.choices !== choices) return; // corrected meanwhile: a newer preview comes
    change(id, { state: 'ready', ...('whole' in read || 'brought' in read ? read : { understanding: read }) });
  } catch (e) {
    change(id, { state: f.understanding ? 'ready' : 'failed', error: (e as Error).message });
  }
}

/** Correct how a file is understood; after a moment it is read anew. */
export function correct(id: number, choices: Choices): void {
  const f = find(id);
  if (!f) return;
  change(id, { choices: { ...f.choices, ...choices } });
  clearTimeout(timers.get(id));
  timers.set(
    id,
    setTimeout(() => void preview(id), 350),
  );
}

/** Whether a file can be stored. */
export const storable = (f: Incoming): boolean =>
  f.state === 'ready' &&
  (f.brought
    ? brings(f.brought)
    : f.whole
      ? f.keepAs.trim() !== ''
      : !!f.understanding && !obstacle(f.understanding, f.choices));

/** Name a table that is to be kept. */
export const rename = (id: number, keepAs: string): void => change(id, { keepAs, error: undefined });

/**
 * Store every file that can be stored and was not discarded meanwhile: recordings first, for tables may be about them.
 */
export async function storeAll(): Promise<void> {
  const stored: Incoming[] = [];
  const recordingsFirst = [...incoming.peek()].sort((a, b) => Number(!!a.brought) - Number(!!b.brought));
  for (const { id } of recordingsFirst) {
    const f = find(id);
    if (!f || !storable(f)) continue;
    clearTimeout(timers.get(id)); // it is read as corrected when it is stored
    change(id, { state: 'storing', done: 0, error: undefined });
    try {
      if (f.brought) await link.ask('bring', { upload: f.upload });
      else if (f.whole) await link.ask('keep', { upload: f.upload, name: f.keepAs.trim() });
      else await link.ask('import', { upload: f.upload, choices: f.choices });
      stored.push(f);
      change(id, { state: 'stored' });
    } catch (e) {
      if (find(id)) change(id, { state: 'ready', error: (e as Error).message });
      else say(`${f.name} was stopped; the roster tells what the season holds.`);
    }
  }
  const recordings = stored.filter((f) => f.understanding);
  const serves = recordings.reduce((n, f) => n + (f.understanding?.serves?.filter((s) => !s.cut_off).length ?? 0), 0);
  if (recordings.length > 0) say(`${count(serves, 'serve')} stored from ${count(recordings.length, 'file')}.`);
  else if (stored.some((f) => f.whole)) say(`Kept: recipes read it with season.Table.`);
  else if (stored.length > 0) say('What the table says is in the season.');
  incoming.value = incoming.value.filter((f) => f.state !== 'stored');
}

/** Let a file go. Where it is on its way, being read or being stored, that stops. */
export function discard(id: number): void {
  const f = find(id);
  onTheWay.get(id)?.abort();
  incoming.value = incoming.value.filter((i) => i.id !== id);
  if (f?.upload) void link.ask('discard', { upload: f.upload }).catch(() => undefined);
}

export function discardAll(): void {
  for (const f of incoming.peek()) discard(f.id);
}
