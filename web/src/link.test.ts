import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { connection, Link, type Rows } from './link';

class Socket {
  static readonly OPEN = 1;
  static last: Socket;
  readyState = 1;
  binaryType = '';
  sent: { id: number; type: string; [field: string]: unknown }[] = [];
  onopen: (() => Promise<void>) | null = null;
  onmessage: ((e: { data: string | ArrayBuffer }) => void) | null = null;
  onclose: ((e: { code: number }) => void) | null = null;
  constructor(readonly url: string) {
    Socket.last = this;
  }
  send(text: string): void {
    this.sent.push(JSON.parse(text));
  }
  close(): void {
    this.onclose?.({ code: 1000 });
  }
  hear(frame: object): void {
    this.onmessage?.({ data: JSON.stringify(frame) });
  }
}

let link: Link;

beforeEach(() => {
  vi.useFakeTimers();
  vi.stubGlobal('WebSocket', Socket);
  vi.stubGlobal(
    'fetch',
    vi.fn(() => Promise.resolve(new Response('', { status: 200 }))),
  );
  link = new Link();
  link.connect();
});
afterEach(() => {
  vi.useRealTimers();
  vi.unstubAllGlobals();
});

describe('a question', () => {
  it('gets the answer with its own number, in any order', async () => {
    const first = link.ask('open', { recipe: 'a' }),
      second = link.ask('open', { recipe: 'b' });
    const [a, b] = Socket.last.sent;
    expect(a).toMatchObject({ type: 'open', recipe: 'a' });
    Socket.last.hear({ id: b?.id, type: 'reply', body: 'B' });
    Socket.last.hear({ id: a?.id, type: 'reply', body: 'A' });
    expect(await Promise.all([first, second])).toEqual(['A', 'B']);
  });
  it('fails with the sentence of the server', async () => {
    const asked = link.ask('open', { recipe: 'x' });
    Socket.last.hear({ id: Socket.last.sent[0]?.id, type: 'failed', error: 'There is no recipe x.' });
    await expect(asked).rejects.toThrow('There is no recipe x.');
  });
  it('gets rows from a binary frame: number, count, stream', async () => {
    const asked = link.ask<Rows>('rows', {});
    const frame = new Uint8Array(11),
      head = new DataView(frame.buffer);
    head.setUint32(0, Socket.last.sent[0]?.id ?? 0, true);
    head.setUint32(4, 100_000, true);
    frame.set([7, 8, 9], 8);
    Socket.last.onmessage?.({ data: frame.buffer });
    const got = await asked;
    expect(got.rows).toBe(100_000);
    expect([...got.stream]).toEqual([7, 8, 9]);
  });
  it('fails when the connection breaks, and at once while it is broken', async () => {
    const asked = link.ask('run');
    const failed = expect(asked).rejects.toThrow('broke');
    Socket.last.readyState = 3;
    Socket.last.onclose?.({ code: 1006 });
    await failed;
    await expect(link.ask('run')).rejects.toThrow('not connected');
  });
});

describe('the connection', () => {
  it('comes back by itself and greets anew', async () => {
    const greet = vi.fn(() => Promise.resolve());
    link.onOpen(greet);
    const first = Socket.last;
    await first.onopen?.();
    expect(connection.value).toBe('open');
    first.onclose?.({ code: 1006 });
    expect(connection.value).toBe('lost');
    await vi.advanceTimersByTimeAsync(500);
    expect(Socket.last).not.toBe(first);
    await Socket.last.onopen?.();
    expect(greet).toHaveBeenCalledTimes(2);
    expect(connection.value).toBe('open');
  });
  it('is shut, and not tried again, where the server does not know this browser', async () => {
    const first = Socket.last;
    first.onclose?.({ code: 1008 });
    await vi.advanceTimersByTimeAsync(10_000);
    expect(connection.value).toBe('shut');
    expect(Socket.last).toBe(first);
  });
  it('is shut where the door says 401', async () => {
    vi.stubGlobal(
      'fetch',
      vi.fn(() => Promise.resolve(new Response('', { status: 401 }))),
    );
    Socket.last.onclose?.({ code: 1006 });
    await vi.advanceTimersByTimeAsync(10_000);
    expect(connection.value).toBe('shut');
  });
});

it('passes on what is told unasked, with its recipe', () => {
  const heard: unknown[] = [];
  link.on('running', (on, recipe) => heard.push([on, recipe]));
  Socket.last.hear({ type: 'running', recipe: 'knee_flex', body: true });
  Socket.last.hear({ type: 'season', body: {} });
  expect(heard).toEqual([[true, 'knee_flex']]);
});
