// The live page's surroundings of a result: rows and downloads from the server.
import { png, svg } from './chart/picture';
import { get } from './link';
import { recipe } from './desk';
import type { MenuItem } from './parts/menu';
import { fileName, saveBlob } from './parts/save';
import type { TableRef } from './protocol';
import type { Surroundings } from './results';
import { served, type RowSource, type View } from './table/rows';
import { say } from './say';

const known = new WeakMap<TableRef, RowSource>();

const saving = (what: () => Promise<void>) => () => what().catch((e: Error) => say(e.message));

function tableItems(table: TableRef, name: string, view?: View): MenuItem[] {
  return (
    [
      ['CSV', 'csv'],
      ['Parquet', 'parquet'],
      ['Arrow', 'arrow'],
    ] as const
  ).map(([title, ending]) => ({
    name: `Numbers as ${title}`,
    run: saving(async () =>
      saveBlob(await get(`/table/${table.ref}.${ending}`, view), `${fileName(recipe.peek(), name)}.${ending}`),
    ),
  }));
}

export const live: Surroundings = {
  rows(table) {
    const source = known.get(table) ?? served(table);
    known.set(table, source);
    return source;
  },
  chartItems: (chart, name) => [
    {
      name: 'Picture (PNG)',
      run: saving(async () => saveBlob(await png(chart), `${fileName(recipe.peek(), name)}.png`)),
    },
    {
      name: 'Drawing (SVG)',
      run: saving(async () => saveBlob(await svg(chart), `${fileName(recipe.peek(), name)}.svg`)),
    },
    ...(chart.data ? tableItems(chart.data, name) : []),
  ],
  tableItems,
};
