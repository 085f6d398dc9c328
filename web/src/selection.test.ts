import { beforeEach, describe, expect, it } from 'vitest';
import { address, go } from './address';
import { clear, pick, select, selected, toggle, toggleAll, without } from './selection';

beforeEach(() => {
  clear();
  go({ serve: '', beside: '', source: false });
});
const now = () => ({ selected: [...selected.value], serve: address.value.serve, beside: address.value.beside });

describe('a click on a serve', () => {
  it('opens it and lets the others go', () => {
    select(['x', 'y']);
    pick('a');
    expect(now()).toEqual({ selected: ['a'], serve: 'a', beside: '' });
  });
  it('with shift puts it beside the open one', () => {
    pick('a');
    pick('b', { shiftKey: true });
    expect(now()).toEqual({ selected: ['a', 'b'], serve: 'a', beside: 'b' });
  });
  it('with shift opens it where none lies open', () => {
    pick('b', { shiftKey: true });
    expect(now()).toEqual({ selected: ['b'], serve: 'b', beside: '' });
  });
  it.each(['ctrlKey', 'metaKey'])('with %s takes it in or out and opens nothing', (key) => {
    pick('a', { [key]: true });
    pick('b', { [key]: true });
    pick('a', { [key]: true });
    expect(now()).toEqual({ selected: ['b'], serve: '', beside: '' });
  });
  it('that stands for no serve does nothing', () => {
    pick('');
    expect(now()).toEqual({ selected: [], serve: '', beside: '' });
  });
});

it('says nothing where nothing changes', () => {
  select(['a', 'b']);
  const before = selected.value;
  select(['b', 'a']);
  expect(selected.value).toBe(before);
});

it('takes many in, and out only where all are in', () => {
  select(['a', 'x']);
  toggleAll(['a', 'b']);
  expect(now().selected).toEqual(['a', 'x', 'b']);
  toggleAll(['a', 'b']);
  expect(now().selected).toEqual(['x']);
  toggleAll(['a', 'b']);
  expect(now().selected).toEqual(['a', 'b']);
});

it.each([
  ['the open one', 'r1-1', 'r2-1', { selected: ['r12-1', 'r2-1'], serve: '', beside: '' }],
  ['the one beside', 'r2-1', 'r1-1', { selected: ['r12-1', 'r2-1'], serve: 'r2-1', beside: '' }],
  ['neither', 'r2-1', 'r12-1', { selected: ['r12-1', 'r2-1'], serve: 'r2-1', beside: 'r12-1' }],
])('lets go of the serves of a recording that is no more, here %s', (_, serve, beside, want) => {
  select(['r1-1', 'r12-1', 'r2-1']);
  go({ serve, beside });
  without('r1');
  expect(now()).toEqual(want);
});

it('adds to the selection and takes out of it', () => {
  select(['a']);
  select(['b', ''], true);
  toggle('a');
  expect(now().selected).toEqual(['b']);
});
