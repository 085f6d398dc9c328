import { expect, it } from 'vitest';
import { editsOf } from './edit';

it.each<[string, Record<string, string>, Record<string, string>, [string, string][]]>([
  ['nothing changed', { outcome: 'in' }, { outcome: 'in' }, []],
  [
    'what is new',
    { outcome: 'in' },
    { outcome: 'net', serve_type: 'flat' },
    [
      ['outcome', 'net'],
      ['serve_type', 'flat'],
    ],
  ],
  ['what is no longer known', { outcome: 'in' }, { outcome: '' }, [['outcome', '']]],
  ['spaces around', { outcome: 'in' }, { outcome: ' in ' }, []],
  ['nothing where nothing was', {}, { outcome: '  ' }, []],
])('%s', (_, before, after, want) => {
  expect(editsOf('serve', 's1', before, after)).toEqual(
    want.map(([field, value]) => ({ target: 'serve', subject: 's1', field, value })),
  );
});
