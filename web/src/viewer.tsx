// The script of an exported document: it puts living results where the document shows still ones.
import { render, type ComponentChildren } from 'preact';
import { png, svg } from './chart/picture';
import { counted, howMany, reasons } from './leftout';
import { refresh } from './palette';
import { fileName, saveBlob } from './parts/save';
import type { MenuItem } from './parts/menu';
import type { Column, Result, TableRef } from './protocol';
import { Around, ResultView, type Surroundings } from './results';
import { carried, type RowSource, type View } from './table/rows';
import { count } from './words';
import './style/viewer.css';

interface Carried {
  rows: number;
  columns: (string | number | null)[][] | null;
  names: string[] | null;
}

interface Data {
  steps: { name: string; title: string; results?: Result[] }[];
  tables: Record<string, Carried>;
}

const data = JSON.parse(document.getElementById('results')?.textContent ?? '{}') as Data;
const sources = new Map<string, RowSource>();

function rows(table: TableRef): RowSource {
  const known = sources.get(table.ref);
  if (known) return known;
  const c = data.tables[table.ref];
  const byName = new Map((c?.names ?? []).map((n, i) => [n, c?.columns?.[i] ?? []]));
  const made = carried(
    table.columns.map((col) => byName.get(col.name) ?? []),
    table.columns.map((col) => col.name),
  );
  sources.set(table.ref, made);
  return made;
}

const quoted = (v: unknown) => `"${String(v ?? '').replaceAll('"', '""')}"`;

/** Text that a spreadsheet would take for a formula gets an apostrophe in front. */
const field = (v: unknown) =>
  typeof v === 'number' ? String(v) : quoted(/^[=+\-@\t\r]/.test(String(v ?? '')) ? `'${String(v)}` : v);

async function csv(table: TableRef, view?: View): Promise<Blob> {
  const all = await rows(table).fetch(0, table.rows, view?.order ?? '', view?.filter ?? []);
  const head = table.columns.map((c: Column) => quoted(c.name)).join(',');
  return new Blob([[head, ...all.rows.map((r) => r.map(field).join(','))].join('\r\n')], { type: 'text/csv' });
}

const tableItems = (table: TableRef, name: string, view?: View): MenuItem[] => [
  { name: 'Numbers as CSV', run: async () => saveBlob(await csv(table, view), `${fileName(name)}.csv`) },
];

const around: Surroundings = {
  rows,
  tableItems,
  chartItems: (chart, name) => [
    { name: 'Picture (PNG)', run: async () => saveBlob(await png(chart), `${fileName(name)}.png`) },
    { name: 'Drawing (SVG)', run: async () => saveBlob(await svg(chart), `${fileName(name)}.svg`) },
    ...(chart.data ? tableItems(chart.data, name) : []),
  ],
};

/** What the last result of a step says of the serves behind it. */
function quiet(results: Result[], i: number): ComponentChildren {
  const { serves, out } = counted(results);
  if (i < results.length - 1 || (serves === 0 && out.length === 0)) return undefined;
  return [
    serves > 0 && serves !== results[i]?.table?.rows && <span>{count(serves, 'serve')}</span>,
    out.length > 0 && <span>{`${howMany(out)} left out: ${reasons(out)}`}</span>,
  ];
}

refresh();
for (const place of document.querySelectorAll<HTMLElement>('.results[data-step]')) {
  const step = data.steps[Number(place.dataset['step'])];
  if (!step) continue;
  place.replaceChildren();
  render(
    <Around.Provider value={around}>
      {(step.results ?? []).map((r, i) => (
        <ResultView key={i} result={r} name={step.title} quiet={quiet(step.results ?? [], i)} />
      ))}
    </Around.Provider>,
    place,
  );
}
