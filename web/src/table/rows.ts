// Where a table's rows come from: windows of Arrow over the websocket, or the columns inside an exported document.
import { link, type Rows } from '../link';
import type { Column, Filter, TableRef } from '../protocol';

export type Cell = string | number | boolean | null;

export interface Window {
  total: number; // rows after filtering
  from: number;
  rows: Cell[][]; // by row, in the order of the columns
}

/** Which rows of a table are wanted, and in which order: "column", "-column" for descending, "" as they come. */
export interface View {
  order: string;
  filter: Filter[];
}

export interface RowSource {
  fetch(from: number, limit: number, order: string, filter: Filter[]): Promise<Window>;
}

/** Rows that the server keeps. */
export function served(table: TableRef): RowSource {
  return {
    async fetch(from, limit, order, filter) {
      const answer = await link.ask<Rows>('rows', { ref: table.ref, offset: from, limit, order, filter });
      return { total: answer.rows, from, rows: await decode(answer.stream, table.columns) };
    },
  };
}

/** The rows of an Arrow stream, with null for what is missing. */
export async function decode(stream: Uint8Array, columns: Column[]): Promise<Cell[][]> {
  const { tableFromIPC } = await import('apache-arrow');
  const t = tableFromIPC(stream);
  const vectors = columns.map((c) => t.getChild(c.name));
  return Array.from({ length: t.numRows }, (_, i) => columns.map((c, j) => cell(vectors[j]?.get(i), c.type)));
}

function cell(v: unknown, type: Column['type']): Cell {
  if (v === null || v === undefined) return null;
  if (type === 'date' || type === 'time') {
    const text = (v instanceof Date ? v : new Date(Number(v))).toISOString();
    return type === 'date' ? text.slice(0, 10) : text.slice(0, 16).replace('T', ' ');
  }
  if (typeof v === 'bigint') return Number(v);
  return v as Cell;
}

/** Rows that an exported document carries, column by column. */
export function carried(columns: (string | number | null)[][], names: string[]): RowSource {
  const length = columns[0]?.length ?? 0;
  return {
    async fetch(from, limit, order, filter) {
      let at = Array.from({ length }, (_, i) => i);
      for (const f of filter) {
        const values = columns[names.indexOf(f.column)] ?? [];
        const passes = passing(f);
        at = at.filter((i) => passes(values[i] ?? null));
      }
      if (order) at.sort(comparer(columns[names.indexOf(order.replace(/^-/, ''))] ?? [], order.startsWith('-')));
      return {
        total: at.length,
        from,
        rows: at.slice(from, from + limit).map((i) => columns.map((c) => c[i] ?? null)),
      };
    },
  };
}

function passing(f: Filter): (v: Cell) => boolean {
  const text = f.text?.toLowerCase(),
    oneOf = f.one_of && new Set<Cell>(f.one_of);
  if (text)
    return (v) =>
      String(v ?? '')
        .toLowerCase()
        .includes(text);
  if (oneOf) return (v) => oneOf.has(v);
  return (v) => typeof v === 'number' && v >= (f.min ?? -Infinity) && v <= (f.max ?? Infinity);
}

function comparer(values: Cell[], down: boolean) {
  return (i: number, j: number): number => {
    const a = values[i] ?? null,
      b = values[j] ?? null;
    if (a === null || b === null) return a === b ? i - j : a === null ? 1 : -1; // what is missing comes last either way
    const c = a < b ? -1 : a > b ? 1 : 0;
    return (down ? -c : c) || i - j;
  };
}

/** What a person types over a column as a filter: words, or for numbers "> 0.1", "< 5", "1 to 2". */
export function filterOf(column: Column, typed: string): Filter | undefined {
  const text = typed.trim().replaceAll('−', '-');
  if (!text) return undefined;
  if (column.type !== 'number' && column.type !== 'integer') return { column: column.name, text };
  const n = '(-?\\d+(?:\\.\\d+)?)';
  const bound = (pattern: string) => new RegExp(`^${pattern}$`).exec(text)?.slice(1).map(Number);
  const above = bound(`[>≥]=?\\s*${n}`),
    below = bound(`[<≤]=?\\s*${n}`),
    between = bound(`${n}\\s*(?:to|–|\\.\\.)\\s*${n}`),
    exact = bound(n);
  if (above) return { column: column.name, min: above[0] };
  if (below) return { column: column.name, max: below[0] };
  if (between) return { column: column.name, min: between[0], max: between[1] };
  if (exact) return { column: column.name, min: exact[0], max: exact[0] };
  return undefined;
}
