// The websocket: questions with answers, and what the server tells unasked. It comes back by itself when it breaks.
import { signal } from '@preact/signals';
import type { Pushes } from './protocol';

/** "shut": the server does not know this browser; "lost": it cannot be reached, and is tried again. */
export const connection = signal<'connecting' | 'open' | 'lost' | 'shut'>('connecting');

export interface Rows {
  rows: number;
  stream: Uint8Array;
}

type Waiting = { resolve: (answer: never) => void; reject: (why: Error) => void };
type Listener<K extends keyof Pushes> = (body: Pushes[K], recipe: string) => void;

const keyName = 'tossline-key';

export class Link {
  private socket: WebSocket | undefined;
  private next = 0;
  private tries = 0;
  private waiting = new Map<number, Waiting>();
  private listeners = new Map<string, Listener<never>[]>();
  private greeted: (() => Promise<void>)[] = [];

  /** Exchange the code of the start address for the cookie and the key, once. */
  static async enter(): Promise<void> {
    const code = /^#code=([0-9a-f]+)$/.exec(location.hash)?.[1];
    if (!code) return;
    history.replaceState(null, '', location.pathname + location.search);
    const answer = await fetch('/enter', {
      method: 'POST',
      headers: { 'Content-Type': 'application/json' },
      body: JSON.stringify({ code }),
    });
    if (answer.ok) localStorage.setItem(keyName, ((await answer.json()) as { key: string }).key);
  }

  static key(): string {
    return localStorage.getItem(keyName) ?? '';
  }

  /** Run what to do each time the link is open, in order; the first says hello. */
  onOpen(greet: () => Promise<void>): void {
    this.greeted.push(greet);
  }

  on<K extends keyof Pushes>(type: K, hear: Listener<K>): void {
    const list = this.listeners.get(type) ?? [];
    list.push(hear as Listener<never>);
    this.listeners.set(type, list);
  }

  connect(): void {
    const socket = new WebSocket(`ws://${location.host}/link`);
    socket.binaryType = 'arraybuffer';
    this.socket = socket;
    let opened = false;
    socket.onopen = async () => {
      opened = true;
      this.tries = 0;
      try {
        for (const greet of this.greeted) await greet();
        connection.value = 'open';
      } catch {
        socket.close();
      }
    };
    socket.onmessage = (event: MessageEvent<string | ArrayBuffer>) => this.hear(event.data);
    socket.onclose = (event) => {
      if (this.socket !== socket) return;
      for (const w of this.waiting.values()) w.reject(new Error('The connection to Tossline broke.'));
      this.waiting.clear();
      connection.value = event.code === 1008 ? 'shut' : 'lost';
      if (connection.value === 'lost') void this.again(opened);
    };
  }

  /** Try again soon; the server tells by a plain request whether this browser is still let in. */
  private async again(opened: boolean): Promise<void> {
    if (!opened) {
      const refused = await fetch('/link').then(
        (r) => r.status === 401,
        () => false,
      );
      if (refused) {
        connection.value = 'shut';
        return;
      }
    }
    this.tries++;
    setTimeout(() => this.connect(), Math.min(200 * 2 ** this.tries, 4000));
  }

  private hear(data: string | ArrayBuffer): void {
    if (typeof data !== 'string') {
      const head = new DataView(data);
      this.settle(head.getUint32(0, true))?.resolve({
        rows: head.getUint32(4, true),
        stream: new Uint8Array(data, 8),
      } as never);
      return;
    }
    const frame = JSON.parse(data) as { id?: number; type: string; body: never; error?: string; recipe?: string };
    if (frame.id === undefined) {
      for (const hear of this.listeners.get(frame.type) ?? [])
        (hear as (b: never, r: string) => void)(frame.body, frame.recipe ?? '');
      return;
    }
    const w = this.settle(frame.id);
    if (frame.type === 'failed') w?.reject(new Error(frame.error));
    else w?.resolve(frame.body);
  }

  private settle(id: number): Waiting | undefined {
    const w = this.waiting.get(id);
    this.waiting.delete(id);
    return w;
  }

  /** Ask a question. The answer fails with a sentence for the reader. */
  ask<T>(type: string, fields: object = {}): Promise<T> {
    const socket = this.socket;
    if (!socket || socket.readyState !== WebSocket.OPEN) {
      return Promise.reject(new Error('Tossline is not connected. Is it still running?'));
    }
    const id = ++this.next;
    return new Promise<T>((resolve, reject) => {
      this.waiting.set(id, { resolve: resolve as (a: never) => void, reject });
      socket.send(JSON.stringify({ id, type, ...fields }));
    });
  }
}

export const link = new Link();

/** Get something over HTTP, with the key; where the path takes a question, as the answer to it. */
export async function get(path: string, question?: object): Promise<Blob> {
  const answer = await fetch(path, {
    headers: { 'X-Tossline-Key': Link.key(), ...(question && { 'Content-Type': 'application/json' }) },
    ...(question && { method: 'POST', body: JSON.stringify(question) }),
  });
  if (!answer.ok) throw new Error((await answer.text()).trim() || 'That could not be saved.');
  return answer.blob();
}
