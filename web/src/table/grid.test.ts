import { expect, it } from 'vitest';
import type { Column } from '../protocol';
import { arrange } from './grid';

const columns = (...names: string[]): Column[] => names.map((name) => ({ name, title: name, type: 'number' }));

it('leaves a table that is not of serves as it is', () => {
  expect(arrange(columns('value', 'player')).map((c) => c.name)).toEqual(['value', 'player']);
});

it('puts who and when first, particulars last, and reasons with their values', () => {
  const placed = arrange(
    columns('serve', 'contact_offset_m', 'contact_offset_missing', 'contact_offset_basis', 'hand', 'session', 'player'),
  );
  expect(placed.map((c) => c.name)).toEqual(['player', 'session', 'contact_offset_m', 'serve', 'hand']);
  expect(placed.map((c) => c.i)).toEqual([6, 5, 1, 0, 4]);
  expect(placed[2]?.why).toBe(2);
  expect(placed[0]?.why).toBe(-1);
});
