import { expect, it } from 'vitest';
import { bytesOf, charsOf } from './editor';

it.each([
  ['plain', 'func A', 4, 4],
  ['after a degree sign', '62° x', 4, 3],
  ['after a sign outside the basic plane', '🎾 x', 5, 3],
  ['at the start', '°', 0, 0],
])('byte offsets and positions: %s', (_, text, bytes, chars) => {
  expect(charsOf(text, bytes)).toBe(chars);
  expect(bytesOf(text.slice(0, chars))).toBe(bytes);
});
