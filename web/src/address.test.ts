import { expect, it } from 'vitest';
import { format, parse, type Address } from './address';

const empty: Address = { recipe: '', source: false, step: '', serve: '', beside: '', player: '', measure: '' };

it.each([
  ['nothing', '', empty],
  ['a recipe', '?recipe=knee_flex', { ...empty, recipe: 'knee_flex' }],
  [
    'an open source and a step',
    '?recipe=a&source&step=Spread',
    { ...empty, recipe: 'a', source: true, step: 'Spread' },
  ],
  ['two serves', '?serve=x%2F1&beside=y%202', { ...empty, serve: 'x/1', beside: 'y 2' }],
  ['an unknown name', '?colour=red&player=Noor', { ...empty, player: 'Noor' }],
])('reads %s', (_, query, want) => expect(parse(query)).toEqual(want));

it.each([
  ['nothing', empty, '/'],
  ['an open source', { ...empty, recipe: 'a', source: true }, '?recipe=a&source'],
  ['what needs escaping', { ...empty, player: 'Noor & Jonas = 2' }, '?player=Noor+%26+Jonas+%3D+2'],
])('writes %s', (_, address, want) => expect(format(address)).toBe(want));

it('reads back what it wrote', () => {
  const a: Address = {
    recipe: 'contact_offset',
    source: true,
    step: 'Place',
    serve: 'r-1/2',
    beside: 'é ü',
    player: 'A=',
    measure: 'm',
  };
  expect(parse(format(a))).toEqual(a);
});
