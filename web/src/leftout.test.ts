import { expect, it } from 'vitest';
import { counted, howMany, reasons } from './leftout';
import type { Result } from './protocol';

const gap = { reason: 'gap at contact', serves: ['a', 'b'] },
  racket = { reason: 'no racket', serves: ['b'] },
  nobody = { reason: 'cut off', serves: null };

it('counts over the results of a list, too', () => {
  const results: Result[] = [
    { kind: 'chart', serves: 12, left_out: [gap] },
    { kind: 'list', list: [{ kind: 'estimate', serves: 14, left_out: [racket] }] },
    { kind: 'text' },
  ];
  expect(counted(results)).toEqual({ serves: 14, out: [gap, racket] });
  expect(counted([])).toEqual({ serves: 0, out: [] });
});

it('counts a serve once, whatever was missing in it', () => expect(howMany([gap, racket, nobody])).toBe('2'));

it('gives reasons that left a serve out', () =>
  expect(reasons([gap, nobody, racket])).toBe('gap at contact 2 and no racket 1'));
