import { tableFromArrays, tableToIPC, vectorFromArray, Bool, DateDay, Float64, Int64, Table, Utf8 } from 'apache-arrow';
import { describe, expect, it } from 'vitest';
import type { Column } from '../protocol';
import { carried, decode, filterOf, type Cell } from './rows';

const column = (name: string, type: Column['type']): Column => ({ name, title: name, type });

describe('decode', () => {
  const stream = tableToIPC(
    new Table({
      player: vectorFromArray(['Noor', null, 'Ines'], new Utf8()),
      offset: vectorFromArray([0.12, -0.07, null], new Float64()),
      count: vectorFromArray([1n, 2n, 9007199254740991n], new Int64()),
      day: vectorFromArray([new Date('2026-03-14'), null, new Date('2026-02-01')], new DateDay()),
      left: vectorFromArray([true, false, null], new Bool()),
    }),
    'stream',
  );
  const columns = [
    column('player', 'text'),
    column('offset', 'number'),
    column('count', 'integer'),
    column('day', 'date'),
    column('left', 'bool'),
  ];

  it('gives rows in the order of the columns asked for', async () => {
    expect(await decode(stream, columns)).toEqual([
      ['Noor', 0.12, 1, '2026-03-14', true],
      [null, -0.07, 2, null, false],
      ['Ines', null, 9007199254740991, '2026-02-01', null],
    ]);
  });
  it('gives nothing for a column that is not there', async () => {
    expect(await decode(stream, [column('speed', 'number'), column('player', 'text')])).toEqual([
      [null, 'Noor'],
      [null, null],
      [null, 'Ines'],
    ]);
  });
  it('reads a table without rows', async () => {
    expect(
      await decode(tableToIPC(tableFromArrays({ player: [] as string[] }), 'stream'), [column('player', 'text')]),
    ).toEqual([]);
  });
});

describe('filterOf', () => {
  it.each([
    ['text', 'player', ' noor ', { column: 'player', text: 'noor' }],
    ['a number exactly', 'offset', '0.1', { column: 'offset', min: 0.1, max: 0.1 }],
    ['above', 'offset', '> 0.1', { column: 'offset', min: 0.1 }],
    ['below, with a real minus', 'offset', '< −0.1', { column: 'offset', max: -0.1 }],
    ['between', 'offset', '-1 to 2', { column: 'offset', min: -1, max: 2 }],
    ['nothing typed', 'offset', '  ', undefined],
    ['not finished', 'offset', '>', undefined],
    ['no number', 'offset', 'much', undefined],
  ])('%s', (_, name, typed, want) =>
    expect(filterOf(column(name, name === 'player' ? 'text' : 'number'), typed)).toEqual(want),
  );
});

describe('carried', () => {
  const source = carried(
    [
      ['b', 'a', 'c', null],
      [2, null, 1, 3],
    ],
    ['name', 'value'],
  );
  const names = async (
    order: string,
    filter: Parameters<typeof source.fetch>[3] = [],
    from = 0,
    limit = 10,
  ): Promise<Cell[]> => (await source.fetch(from, limit, order, filter)).rows.map((r) => r[0] as Cell);

  it.each([
    ['as they come', '', ['b', 'a', 'c', null]],
    ['ascending, missing last', 'value', ['c', 'b', null, 'a']],
    ['descending, missing last too', '-value', [null, 'b', 'c', 'a']],
    ['by text', 'name', ['a', 'b', 'c', null]],
  ])('orders %s', async (_, order, want) => expect(await names(order)).toEqual(want));

  it('filters by text whatever the case, and by bounds', async () => {
    expect(await names('', [{ column: 'name', text: 'A' }])).toEqual(['a']);
    expect(await names('', [{ column: 'value', min: 2 }])).toEqual(['b', null]);
    expect(
      await names('', [
        { column: 'value', max: 2 },
        { column: 'name', text: 'b' },
      ]),
    ).toEqual(['b']);
  });
  it('filters by a choice', async () => {
    expect(await names('-name', [{ column: 'name', one_of: ['a', 'c', 'x'] }])).toEqual(['c', 'a']);
    expect(await names('', [{ column: 'name', one_of: [] }])).toEqual([]);
  });
  it('gives a window and the whole count', async () => {
    const w = await source.fetch(1, 2, 'name', []);
    expect(w).toEqual({
      total: 4,
      from: 1,
      rows: [
        ['b', 2],
        ['c', 1],
      ],
    });
  });
});
