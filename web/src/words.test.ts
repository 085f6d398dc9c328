import { describe, expect, it } from 'vitest';
import {
  count,
  day,
  decimalsFor,
  left,
  list,
  number,
  plain,
  shortDay,
  signed,
  took,
  unbroken,
  unit,
  withUnit,
} from './words';

describe('number', () => {
  it.each([
    ['three decimals below one', 0.12345, undefined, '0.123'],
    ['two from one on', 1.2345, undefined, '1.23'],
    ['one from ten on', 12.345, undefined, '12.3'],
    ['none from a hundred on', 1234.5, undefined, '1,235'],
    ['whole numbers as they are', 12, undefined, '12'],
    ['a real minus', -0.07, undefined, '−0.07'],
    ['no minus before what rounds to zero', -0.0001, undefined, '0'],
    ['as many decimals as asked', 0.1, 3, '0.100'],
    ['thousands set apart', 1012, undefined, '1,012'],
    ['nothing for NaN', Number.NaN, undefined, '–'],
    ['nothing for null', null, undefined, '–'],
    ['nothing for infinity', Number.POSITIVE_INFINITY, undefined, '–'],
  ])('%s', (_, v, decimals, want) => expect(number(v, decimals)).toBe(want));
});

it.each([
  [0, 0],
  [7, 0],
  [0.5, 3],
  [-1.5, 2],
  [99.9, 1],
  [100.5, 0],
])('%d is written with %d decimals', (v, want) => {
  expect(decimalsFor(v)).toBe(want);
});

it.each([
  ['positive', 0.12, undefined, '+0.12'],
  ['negative', -0.07, undefined, '−0.07'],
  ['zero', 0, undefined, '0'],
  ['what rounds to zero', 0.0001, 2, '0.00'],
  ['missing', undefined, undefined, '–'],
])('signed: %s', (_, v, decimals, want) => expect(signed(v, decimals)).toBe(want));

it.each([
  [1, 'serve', undefined, '1 serve'],
  [1012, 'serve', undefined, '1,012 serves'],
  [0, 'row', undefined, '0 rows'],
  [2, 'foot', 'feet', '2 feet'],
])('count %d %s', (n, one, many, want) => expect(count(n, one, many)).toBe(want));

it.each([
  ['deg', '62°', '62'],
  ['deg/s', '900°/s', '900'],
  ['%', '12%', '12'],
  ['m', '0.12 m', '0.12'],
  [undefined, '3', '3'],
])('a value in %s', (u, want, text) => expect(withUnit(text, u)).toBe(want));

it('passes on a unit that it does not know', () => expect(unit('kg')).toBe('kg'));

it.each([
  ['2026-03-14', '2026', '14 March'],
  ['2025-12-01', '2026', '1 December 2025'],
  ['2026-03-14', undefined, '14 March 2026'],
  ['2026-03-14T10:00:00Z', '2026', '14 March'],
  ['some day', undefined, 'some day'],
])('day %s', (iso, year, want) => expect(day(iso, year)).toBe(want));

it.each([
  ['2026-03-14', '14 Mar'],
  ['x', 'x'],
])('short day %s', (iso, want) => expect(shortDay(iso)).toBe(want));

it.each([
  [0.4, 'under 1 ms'],
  [41.2, '41 ms'],
  [1240, '1.2 s'],
  [60000, '60.0 s'],
])('%d ms took', (ms, want) => {
  expect(took(ms)).toBe(want);
});

it.each([
  [2, 'a few seconds left'],
  [37, 'about 40 s left'],
  [170, 'about 3 min left'],
])('%d s are left', (s, want) => {
  expect(left(s)).toBe(want);
});

it.each([
  [[], ''],
  [['a'], 'a'],
  [['a', 'b'], 'a and b'],
  [['a', 'b', 'c'], 'a, b and c'],
])('joins %j', (names, want) => expect(list(names)).toBe(want));

it.each([
  ['always 0.2 m out, in 95 % of 3 months', 'always 0.2\u00a0m out, in 95\u00a0% of 3 months'],
  ['−23 m/s to 1.5 s.', '−23\u00a0m/s to 1.5\u00a0s.'],
  ['12 sessions, 3 metres', '12 sessions, 3 metres'],
])('keeps numbers and units of %j together', (text, want) => expect(unbroken(text)).toBe(want));

it('writes a snake-case name as words', () => expect(plain('racket_low_point')).toBe('racket low point'));
