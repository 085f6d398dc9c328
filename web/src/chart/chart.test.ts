import { expect, it } from 'vitest';
import { step } from './chart';

it.each([
  ['right', 'ArrowRight', { series: 0, item: 1 }, { series: 0, item: 2 }],
  ['right at the end, to the first', 'ArrowRight', { series: 0, item: 2 }, { series: 0, item: 0 }],
  ['left at the start, to the last', 'ArrowLeft', { series: 0, item: 0 }, { series: 0, item: 2 }],
  ['left before any was shown', 'ArrowLeft', { series: 0, item: -1 }, { series: 0, item: 2 }],
  ['down past an empty series, to its last item', 'ArrowDown', { series: 0, item: 2 }, { series: 2, item: 1 }],
  ['down at the last series, nowhere', 'ArrowDown', { series: 2, item: 1 }, { series: 2, item: 1 }],
  ['up', 'ArrowUp', { series: 2, item: 1 }, { series: 0, item: 1 }],
  ['home', 'Home', { series: 0, item: 2 }, { series: 0, item: 0 }],
  ['end', 'End', { series: 0, item: 0 }, { series: 0, item: 2 }],
  ['another key, nowhere', 'a', { series: 0, item: 0 }, undefined],
])('%s', (_, key, at, want) => expect(step([3, 0, 2], at, key)).toEqual(want));

it('goes nowhere in a chart without points', () =>
  expect(step([0], { series: -1, item: -1 }, 'ArrowRight')).toBeUndefined());
