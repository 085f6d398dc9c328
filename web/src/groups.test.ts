import { expect, it } from 'vitest';
import { groupOf } from './groups';

const all = [
  { name: 'nobody', serves: [] },
  { name: 'best', serves: ['a', 'b'] },
  { name: 'worst', serves: ['c'] },
];

it.each([
  ['in another order', ['b', 'a'], 'best'],
  ['of one serve', ['c'], 'worst'],
  ['with a serve more', ['a', 'b', 'c'], undefined],
  ['with a serve less', ['a'], undefined],
  ['of as many others', ['a', 'c'], undefined],
  ['of none', [], undefined],
])('the group %s', (_, serves, want) => expect(groupOf(new Set(serves), all)?.name).toBe(want));
