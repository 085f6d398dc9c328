// A table that scrolls any number of rows: only the windows around what is seen are fetched and drawn.
import { signal } from '@preact/signals';
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import type { Column, Filter, TableRef } from '../protocol';
import { pick, selected } from '../selection';
import { decimalsFor, decimalsOf, number, unit } from '../words';
import { filterOf, type Cell, type RowSource, type View as Wanted, type Window } from './rows';

const rowHeight = 27;
const windowRows = 200;
const tallest = 8_000_000; // px: browsers lose precision beyond; from there on scrolling is proportional
const shownAround = 8;

interface Props {
  table: TableRef;
  name: string;
  source: RowSource;
  filtering?: boolean;
  only?: string[]; // the serves whose rows are shown, where not all are
  tell: (wanted: Wanted, rows: number) => void; // hears which rows are shown, and how many they are
}

export function Grid({ table, name, source, filtering, only, tell }: Props) {
  const [order, setOrder] = useState('');
  const [typed, setTyped] = useState<Record<string, string>>({});
  const filter = useMemo(() => {
    const words = table.columns.map((c) => filterOf(c, typed[c.name] ?? '')).filter((f): f is Filter => !!f);
    return only ? [...words, { column: 'serve', one_of: only }] : words;
  }, [typed, table, only]);
  const view = useView(table, source, order, filter);
  useEffect(() => tell({ order, filter }, view.total), [order, filter, view.total]);
  const columns = useMemo(() => arrange(table.columns), [table]);
  const sort = (name: string) => setOrder(order === name ? `-${name}` : order === `-${name}` ? '' : name);
  return (
    <div
      class="grid"
      tabIndex={0}
      role="region"
      aria-label={`Rows of ${name}`}
      ref={view.scroller}
      onScroll={view.scrolled}
      onKeyDown={(e) => view.press(e, table)}
    >
      <div
        class="tall"
        ref={(e) => {
          if (e) e.style.height = `${view.height}px`;
        }}
      >
        <table aria-rowcount={view.total + 1}>
          <thead
            ref={(e) => {
              if (e) view.head.value = e.offsetHeight;
            }}
          >
            <tr aria-rowindex={1}>
              {columns.map((c) => (
                <th
                  key={c.name}
                  scope="col"
                  class={isNumber(c) ? 'num' : ''}
                  title={c.name}
                  aria-sort={order === c.name ? 'ascending' : order === `-${c.name}` ? 'descending' : 'none'}
                >
                  <button type="button" onClick={() => sort(c.name)}>
                    {c.title}
                    {order === c.name ? ' ↑' : order === `-${c.name}` ? ' ↓' : ''}
                  </button>
                  {c.unit && <small>{unit(c.unit)}</small>}
                </th>
              ))}
            </tr>
            {filtering && (
              <tr class="filter">
                {columns.map((c) => (
                  <th key={c.name} class={isNumber(c) ? 'num' : ''}>
                    <input
                      type="text"
                      size={6}
                      aria-label={`Only rows where ${c.title} is`}
                      placeholder={isNumber(c) ? '> 0' : 'has'}
                      value={typed[c.name] ?? ''}
                      onInput={(e) => setTyped({ ...typed, [c.name]: e.currentTarget.value })}
                    />
                  </th>
                ))}
              </tr>
            )}
          </thead>
          <Body view={view} columns={columns} serveAt={table.columns.findIndex((c) => c.name === 'serve')} />
        </table>
      </div>
    </div>
  );
}

const isNumber = (c: Column) => c.type === 'number' || c.type === 'integer';
/** A column as it is shown: i is its place in the table, why that of the column that says why a value is missing. */
interface Placed extends Column {
  i: number;
  why: number;
}

const particulars = [
  'serve',
  'recording',
  'file',
  'hand',
  'contact_s',
  'height_m',
  'level',
  'birth_year',
  'serve_type',
  'court_side',
  'stance_type',
  'ball_speed_m_s',
  'outcome',
];

/**
 * The order for reading. In a table of serves, who and when come first and the other particulars last; what says how
 * a value came about, or why it is missing, is shown with the value.
 */
export function arrange(columns: Column[]): Placed[] {
  const at = new Map(columns.map((c, i) => [c.name, i]));
  const placed = columns.map((c, i): Placed => ({
    ...c,
    i,
    why: at.get(c.name.replace(/(_(deg|m|s))*$/, '') + '_missing') ?? -1,
  }));
  if (!at.has('serve')) return placed;
  const rank = (c: Column) =>
    c.name === 'player' ? 0 : c.name === 'session' ? 1 : particulars.includes(c.name) ? 3 : 2;
  return placed.filter((c) => !/_(basis|missing)$/.test(c.name)).sort((a, b) => rank(a) - rank(b) || a.i - b.i);
}

type View = ReturnType<typeof useView>;

/** The state of one grid: which rows are seen, which windows are there, which row is active. */
function useView(table: TableRef, source: RowSource, order: string, filter: Filter[]) {
  const key = `${table.ref}|${order}|${JSON.stringify(filter)}`;
  const state = useMemo(
    () => ({
      windows: new Map<number, Window>(),
      top: signal(0),
      head: signal(rowHeight),
      loaded: signal(0),
      active: signal(-1),
      total: signal(table.rows),
    }),
    [table.ref],
  );
  const scroller = useRef<HTMLDivElement>(null);
  const now = useRef(key);
  if (now.current !== key) {
    now.current = key;
    state.windows.clear();
  }
  const total = filter.length > 0 ? state.total.value : table.rows;
  const natural = total * rowHeight + state.head.value;
  const height = Math.min(natural, tallest);

  const need = (w: number) => {
    if (state.windows.has(w) || w < 0 || (w > 0 && w * windowRows >= total)) return;
    state.windows.set(w, { total, from: w * windowRows, rows: [] });
    source.fetch(w * windowRows, windowRows, order, filter).then(
      (got) => {
        if (now.current !== key) return;
        state.windows.set(w, got);
        state.total.value = got.total;
        state.loaded.value++;
      },
      () => state.windows.delete(w),
    );
  };

  useEffect(() => {
    need(0);
    state.loaded.value++;
    if (scroller.current) scroller.current.scrollTop = 0;
    state.top.value = 0;
  }, [key]);

  const seen = () => Math.ceil((scroller.current?.clientHeight || 420) / rowHeight);
  const firstRow = () => {
    const most = Math.max(1, height - (scroller.current?.clientHeight ?? 420));
    const at =
      natural <= tallest ? state.top.value / rowHeight : (state.top.value / most) * Math.max(0, total - seen() + 2);
    return Math.min(Math.max(0, Math.floor(at)), Math.max(0, total - 1));
  };
  return {
    ...state,
    total,
    height,
    proportional: natural > tallest,
    scroller,
    need,
    seen,
    firstRow,
    row(i: number): Cell[] | undefined {
      const w = Math.floor(i / windowRows);
      need(w);
      return state.windows.get(w)?.rows[i - w * windowRows];
    },
    scrolled: (e: Event) => {
      state.top.value = (e.currentTarget as HTMLElement).scrollTop;
    },
    press(e: KeyboardEvent, t: TableRef) {
      if ((e.target as HTMLElement).tagName === 'INPUT') return;
      const by = {
        ArrowDown: 1,
        ArrowUp: -1,
        PageDown: seen() - 2,
        PageUp: 2 - seen(),
        Home: -Infinity,
        End: Infinity,
      }[e.key];
      if (e.key === 'Enter') {
        const serve = this.row(state.active.peek())?.[t.columns.findIndex((c) => c.name === 'serve')];
        if (typeof serve === 'string') pick(serve, e);
      }
      if (by === undefined) return;
      e.preventDefault();
      const next = Math.min(Math.max(state.active.peek() + by, 0), total - 1);
      state.active.value = next;
      show(next);
    },
  };

  /** Scroll so that a row is seen. */
  function show(i: number): void {
    const box = scroller.current;
    if (!box) return;
    const first = firstRow();
    if (i >= first && i < first + seen() - 3) return;
    const aim = i < first ? i : i - seen() + 4;
    box.scrollTop =
      natural <= tallest ? aim * rowHeight : (aim / Math.max(1, total - seen() + 2)) * (height - box.clientHeight);
  }
}

function Body({ view, columns, serveAt }: { view: View; columns: Placed[]; serveAt: number }) {
  void view.loaded.value;
  const from = Math.max(0, view.firstRow() - shownAround);
  const to = Math.min(view.total, view.firstRow() + view.seen() + shownAround);
  const offset = view.proportional ? view.top.value - (view.firstRow() - from) * rowHeight : from * rowHeight;
  const chosen = selected.value;
  // Where a row says its own unit, the values under each other are of different kinds: each gets its own decimals.
  const mixed = columns.some((c) => c.name === 'unit');
  const decimals = new Map(columns.filter((c) => c.type === 'number').map((c) => [c.name, places(c, view, mixed)]));
  return (
    <tbody
      ref={(e) => {
        if (e) e.style.transform = `translateY(${Math.max(0, offset)}px)`;
      }}
    >
      {Array.from({ length: Math.max(0, to - from) }, (_, k) => {
        const i = from + k;
        const row = view.row(i);
        const serve = serveAt >= 0 ? row?.[serveAt] : undefined;
        const tied = typeof serve === 'string';
        const classes = [tied && 'tied', tied && chosen.has(serve) && 'chosen', view.active.value === i && 'active'];
        return (
          <tr
            key={i}
            aria-rowindex={i + 2}
            class={classes.filter(Boolean).join(' ')}
            onMouseDown={(e) => {
              if (e.shiftKey) e.preventDefault();
            }}
            onClick={
              tied
                ? (e) => {
                    view.active.value = i;
                    pick(serve, e);
                  }
                : undefined
            }
          >
            {columns.map((c) => (
              <Value
                key={c.name}
                column={c}
                decimals={decimals.get(c.name)}
                value={row?.[c.i]}
                why={row?.[c.why]}
                loading={!row}
              />
            ))}
          </tr>
        );
      })}
    </tbody>
  );
}

interface ValueProps {
  column: Column;
  decimals: number | undefined;
  value: Cell | undefined;
  why: Cell | undefined;
  loading: boolean;
}

function Value({ column, decimals, value, why, loading }: ValueProps) {
  if (value === null || value === undefined)
    return <td class={`none ${isNumber(column) ? 'num' : ''}`}>{loading ? '' : (why ?? '–')}</td>;
  if (typeof value === 'number')
    return <td class="num">{/year$/.test(column.name) ? String(value) : number(value, decimals)}</td>;
  if (column.name === 'unit') return <td>{unit(String(value))}</td>;
  return <td>{typeof value === 'boolean' ? (value ? 'yes' : 'no') : value}</td>;
}

/** As many decimals for all of a column, so that its digits line up: by its unit, or what its first rows need. */
function places(c: Placed, view: View, mixed: boolean): number | undefined {
  const known = decimalsOf(c.unit);
  if (known !== undefined) return known;
  if (mixed) return undefined;
  const first = view.windows.get(0)?.rows ?? [];
  return Math.max(0, ...first.map((r) => r[c.i]).map((v) => (typeof v === 'number' ? decimalsFor(v) : 0)));
}
