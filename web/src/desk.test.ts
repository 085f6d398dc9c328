import { afterEach, beforeAll, beforeEach, describe, expect, it, vi } from 'vitest';
import * as desk from './desk';
import { link } from './link';
import type { Desk, Step } from './protocol';

const laid: Desk = {
  recipe: 'knee_flex',
  file: 'knee_flex.go',
  source: 'package recipe',
  revision: 'r1',
  plan: {
    title: 'Knee flex',
    steps: [
      { name: 'Spread', title: 'Spread', first: 10, last: 20 },
      { name: 'Season', title: 'Season', first: 22, last: 30 },
    ],
    settings: [],
  },
  values: { Below: 40 },
  diagnostics: null,
  steps: null,
  running: false,
};
const tell = (type: string, body: unknown, recipe = 'knee_flex') =>
  (link as unknown as { hear(text: string): void }).hear(JSON.stringify({ type, recipe, body }));
const step = (s: Partial<Step>): Step => ({ name: 'Spread', state: 'done', took_ms: 1, ...s });

beforeAll(() => desk.listen());
beforeEach(async () => {
  vi.spyOn(link, 'ask').mockResolvedValue(laid as never);
  await desk.open('knee_flex');
});
afterEach(() => vi.restoreAllMocks());

describe('the open recipe', () => {
  it('follows a run from its start to its end', () => {
    tell('running', true);
    tell('step', step({ state: 'running' }));
    tell('progress', { step: 'Spread', done: 3, total: 10 });
    expect([desk.running.value, desk.progress.value?.done, desk.steps.value.get('Spread')?.state]).toEqual([
      true,
      3,
      'running',
    ]);
    tell('ended', { steps: [step({ results: [{ kind: 'text', text: 'x' }] })] });
    expect([desk.running.value, desk.progress.value, desk.steps.value.get('Spread')?.state]).toEqual([
      false,
      null,
      'done',
    ]);
  });
  it('says of results that they are old while they are made anew', () => {
    tell('step', step({ results: [{ kind: 'text', text: 'x' }] }));
    tell('step', step({ name: 'Season' }));
    tell('running', true);
    expect([desk.steps.value.get('Spread')?.old, desk.steps.value.get('Season')?.old]).toEqual([true, undefined]);
  });
  it('says why a run ended early', () => {
    tell('ended', { error: 'The engine ended.', steps: [] });
    expect(desk.ended.value).toBe('The engine ended.');
  });
  it('does not hear what is told of another recipe', () => {
    tell('running', true, 'drop_depth');
    expect(desk.running.value).toBe(false);
  });
  it('lists failed steps with the checker’s remarks', () => {
    tell('diagnostics', [{ severity: 'warning', line: 3, column: 1, message: 'unused' }]);
    tell('step', step({ state: 'failed', error: { message: 'no such column', line: 12 } }));
    expect(desk.problems.value.map((d) => [d.line, d.message])).toEqual([
      [3, 'unused'],
      [12, 'no such column'],
    ]);
  });
  it.each([
    [9, ''],
    [10, 'Spread'],
    [20, 'Spread'],
    [21, ''],
    [30, 'Season'],
  ])('has line %d in step "%s"', (line, want) => expect(desk.stepAt(line)).toBe(want));
});

it('keeps the sentence of why a recipe cannot be opened', async () => {
  vi.mocked(link.ask).mockRejectedValue(new Error('There is no recipe of that name.'));
  await desk.open('gone');
  expect(desk.failure.value).toBe('There is no recipe of that name.');
});

it('shows a setting at once, and sends only the newest value while the server is busy', async () => {
  const sent: unknown[] = [];
  let answer: () => void = () => {};
  vi.mocked(link.ask).mockImplementation((_, fields) => {
    sent.push((fields as { values: unknown }).values);
    return new Promise((done) => {
      answer = () => done(undefined as never);
    });
  });
  desk.set('Below', 41);
  desk.set('Below', 42);
  desk.set('Below', 43);
  expect(desk.values.value['Below']).toBe(43);
  expect(sent).toEqual([{ Below: 41 }]);
  answer();
  await vi.waitFor(() => expect(sent).toEqual([{ Below: 41 }, { Below: 43 }]));
  tell('values', { Below: 41 }); // an echo of the past must not move the control back
  expect(desk.values.value['Below']).toBe(43);
  answer();
});
