import { beforeEach, describe, expect, it } from 'vitest';
import { address, go } from './address';
import { clear, pick, select, selected, toggle } from './selection';

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

it('adds to the selection and takes out of it', () => {
  select(['a']);
  select(['b', ''], true);
  toggle('a');
  expect(now().selected).toEqual(['b']);
});
