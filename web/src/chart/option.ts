// From the option that a step made to the one that is drawn: roles become colours, the page's type and lines are put
// in, and what is selected stands out. Nothing here changes what is shown, only how.
import type { Palette } from '../palette';
import { colour, faded, series as seriesColours } from '../palette';
import type { Chart } from '../protocol';
import { number, shortDay, signed } from '../words';

type Json = Record<string, unknown>;
const isObject = (v: unknown): v is Json => typeof v === 'object' && v !== null && !Array.isArray(v);
const listOf = (v: unknown): Json[] =>
  (Array.isArray(v) ? v : v === undefined || v === null ? [] : [v]).filter(isObject);

export const largeFrom = 3000;
export const narrowBelow = 560; // px
const font = "'Source Sans 3 Variable', 'Source Sans 3', system-ui, sans-serif";

const colourKeys = new Set(['color', 'borderColor', 'backgroundColor', 'shadowColor']);
const formatters: Record<string, (v: never) => string> = {
  signed: (v: number) => signed(v),
  number: (v: number) => number(v),
  date: (v: string | number) => (typeof v === 'number' ? shortDay(new Date(v).toISOString()) : shortDay(v)),
};

/** A copy with the palette's colours for roles and functions for named formatters. */
export function resolve(value: unknown, p: Palette, key = ''): unknown {
  if (typeof value === 'string') {
    if (colourKeys.has(key)) return colour(p, value);
    if (value.startsWith('named:')) return formatters[value.slice(6)];
    return value;
  }
  if (Array.isArray(value)) {
    if (key === 'data' && plainNumbers(value)) return value; // points: long, and without colours
    return value.map((v) => resolve(v, p, key));
  }
  if (!isObject(value)) return value;
  return Object.fromEntries(Object.entries(value).map(([k, v]) => [k, resolve(v, p, k)]));
}

/** Whether a list holds just numbers, texts and pairs of them. */
function plainNumbers(list: unknown[]): boolean {
  const first: unknown = list[0];
  return Array.isArray(first) ? !first.some((v) => typeof v === 'object' && v !== null) : !isObject(first);
}

/** Put defaults under an object: what it says itself wins. */
function under(own: unknown, defaults: Json): Json {
  const out: Json = { ...defaults };
  for (const [k, v] of Object.entries(isObject(own) ? own : {})) {
    if (v === undefined || v === null) continue;
    out[k] = isObject(v) && isObject(out[k]) ? under(v, out[k] as Json) : v;
  }
  return out;
}

function axis(own: Json, p: Palette, vertical: boolean): Json {
  const category = own['type'] === 'category';
  return under(own, {
    nameLocation: vertical ? 'end' : 'middle',
    nameGap: vertical ? 14 : 30,
    nameTextStyle: { color: p.soft, fontSize: 13, fontFamily: font, align: vertical ? 'left' : 'center' },
    axisLabel: {
      color: category ? p.ink : p.soft,
      fontSize: 13,
      fontFamily: font,
      hideOverlap: true,
      ...(category ? {} : { formatter: (v: number) => label(own, v) }),
    },
    axisLine: { show: !vertical, lineStyle: { color: p.rule } },
    axisTick: { show: !vertical && !category, lineStyle: { color: p.rule }, length: 4 },
    splitLine: { show: !category, lineStyle: { color: p.line, width: 1 } },
    splitArea: { show: false },
  });
}

function label(axis: Json, v: number): string {
  return axis['type'] === 'time' ? shortDay(new Date(v).toISOString()) : number(v, Math.abs(v) < 1e-9 ? 0 : undefined);
}

interface How {
  still?: boolean; // without what only makes sense on a live page
  narrow?: boolean; // without words that would stand in each other's way
}

/** The option as it is drawn. */
export function prepare(chart: Chart, p: Palette, chosen: ReadonlySet<string>, { still, narrow }: How = {}): Json {
  const asMade = resolve(chart.option, p) as Json;
  const option = still && narrow ? asMade : named(asMade, p, chart.height_px || 320);
  const points = size(option);
  const out: Json = {
    ...option,
    animation: false,
    backgroundColor: 'transparent',
    color: option['color'] ?? seriesColours(p),
    textStyle: { fontFamily: font, color: p.ink, fontSize: 13 },
    aria: { enabled: true, label: { description: chart.summary } },
    title: listOf(option['title']).map((t) =>
      under(t, {
        textStyle: { color: p.ink, fontSize: 14, fontWeight: 600, fontFamily: font },
        subtextStyle: { color: p.soft, fontFamily: font },
      }),
    ),
    legend: listOf(option['legend']).map((l) =>
      under(l, {
        textStyle: { color: p.soft, fontSize: 13, fontFamily: font },
        itemWidth: 14,
        itemHeight: 9,
        inactiveColor: p.faint,
        pageTextStyle: { color: p.soft },
      }),
    ),
    xAxis: listOf(option['xAxis']).map((a) => axis(a, p, false)),
    yAxis: listOf(option['yAxis']).map((a) => axis(a, p, true)),
    visualMap: listOf(option['visualMap']).map((v) => under(v, { textStyle: { color: p.soft, fontFamily: font } })),
    tooltip: still ? { show: false } : tooltip(option['tooltip'], p),
    series: [
      ...listOf(option['series']).map((s) => drawn(narrow ? withoutSides(s) : s, p, points, chosen.size > 0)),
      ...marks(option, chart, p, chosen),
    ],
  };
  for (const k of ['xAxis', 'yAxis', 'title', 'legend', 'visualMap'] as const)
    if ((out[k] as Json[]).length === 0) delete out[k];
  delete out['toolbox'];
  if (!still && out['xAxis']) Object.assign(out, tools(p));
  return out;
}

const most = 14; // lines with a name at their end

/** Lines through time of which the legend does not tell whose they are bear their names at their ends. */
function named(option: Json, p: Palette, heightPx: number): Json {
  const explained = new Set(
    listOf(option['legend'])
      .flatMap((l) => (l['show'] === false ? [] : (l['data'] ?? [])))
      .map(nameOf),
  );
  const all = listOf(option['series']);
  const lines = all.filter(
    (s) => s['type'] === 'line' && s['name'] && Array.isArray(s['data']) && s['data'].length > 0,
  );
  const names = new Set(lines.map((s) => String(s['name'])));
  const inTime = listOf(option['xAxis']).some((a) => a['type'] === 'time');
  if (!inTime || names.size < 2 || names.size > most || [...names].some((n) => explained.has(n))) return option;
  const ends = lines.map((s) => valueAt(s, (s['data'] as unknown[]).length - 1) as unknown[] | undefined);
  const [scale] = listOf(option['yAxis']);
  const unit = (heightPx - 90) / (Number(scale?.['max']) - Number(scale?.['min'])); // px for one of the measure
  const apart = spread(ends.map((end) => -unit * Number(end?.[1])));
  const room = 14 + 6.6 * Math.max(...[...names].map((n) => n.length));
  return {
    ...option,
    grid: listOf(option['grid']).map((g) => ({ ...g, right: Math.max(Number(g['right']) || 0, room) })),
    series: [
      ...all,
      {
        type: 'scatter',
        name: '',
        silent: true,
        clip: false,
        symbolSize: 0,
        tooltip: { show: false },
        label: { show: true, position: 'right', distance: 8, color: p.soft, fontSize: 12.5, fontFamily: font },
        data: lines.map((s, i) => ({
          value: ends[i]?.slice(0, 2),
          label: { formatter: s['name'], offset: [0, apart[i]] },
        })),
      },
    ],
  };
}

const lineHeight = 14; // px of a name

/** How far down names at these heights must move, so that none stands on another; no way where a height is unknown. */
export function spread(heights: number[]): number[] {
  const moved = heights.map(() => 0);
  const known = heights.map((at, i) => ({ at, i })).filter((h) => Number.isFinite(h.at));
  let free = -Infinity;
  for (const { at, i } of known.sort((a, b) => a.at - b.at)) {
    moved[i] = Math.max(0, free - at);
    free = Math.max(free, at) + lineHeight;
  }
  return moved;
}

const nameOf = (entry: unknown) => (isObject(entry) ? String(entry['name']) : String(entry));

/** A series without the words at both sides of a line that stands upright. */
function withoutSides(s: Json): Json {
  const area = s['markArea'];
  if (!isObject(area) || !Array.isArray(area['data'])) return s;
  const bare = (area['data'] as Json[][]).map(([from, to]) =>
    from && 'xAxis' in from ? [{ ...from, label: { show: false } }, to] : [from, to],
  );
  return { ...s, markArea: { ...area, data: bare } };
}

function tooltip(own: unknown, p: Palette): Json {
  const wanted = Array.isArray(own) ? own[0] : own;
  return {
    ...under(wanted, {
      show: true,
      trigger: 'item',
      backgroundColor: p.card,
      borderColor: p.line,
      borderWidth: 1,
      padding: [7, 11],
      textStyle: { color: p.ink, fontSize: 13, fontFamily: font },
      axisPointer: {
        lineStyle: { color: p.rule, type: 'solid' },
        crossStyle: { color: p.rule },
        label: { backgroundColor: p.ink, color: p.paper },
      },
      valueFormatter: (v: unknown) =>
        typeof v === 'number'
          ? number(v)
          : Array.isArray(v)
            ? v.map((x) => (typeof x === 'number' ? number(x) : x)).join(', ')
            : String(v ?? '–'),
    }),
    renderMode: 'richText',
    confine: true,
  };
}

/** What zooming and selecting an area need: the toolbox is there but out of sight. */
function tools(p: Palette): Json {
  return {
    toolbox: {
      show: true,
      right: -200,
      feature: { dataZoom: { filterMode: 'none', brushStyle: { color: faded(p.court, 0.12), borderColor: p.court } } },
    },
    brush: {
      toolbox: [],
      xAxisIndex: 'all',
      throttleType: 'debounce',
      throttleDelay: 100,
      brushStyle: { color: faded(p.clay, 0.1), borderColor: p.clay, borderWidth: 1 },
      inBrush: { opacity: 1 },
      outOfBrush: { opacity: 1 }, // the page marks what is selected itself, in every chart alike
    },
  };
}

/** Whether no series has anything to draw. */
export const isEmpty = (option: Json): boolean => size(option) === 0 && !option['dataset'];

/** The points of all series. */
export function size(option: Json): number {
  return listOf(option['series']).reduce((n, s) => n + (Array.isArray(s['data']) ? s['data'].length : 0), 0);
}

function drawn(s: Json, p: Palette, points: number, dim: boolean): Json {
  const out = { ...s };
  if (out['type'] === 'scatter' && points >= largeFrom) Object.assign(out, { large: true, largeThreshold: largeFrom });
  if (out['type'] === 'line' && Array.isArray(s['data']) && s['data'].length > 1000) {
    Object.assign(out, { showSymbol: false, ...(s['data'].length > 20000 ? { sampling: 'lttb' } : {}) });
  }
  if (isObject(out['markLine'])) {
    out['markLine'] = under(out['markLine'], {
      symbol: 'none',
      silent: true,
      animation: false,
      lineStyle: { color: p.ink, type: 'solid', width: 1 },
      label: { color: p.soft, fontSize: 12.5, fontFamily: font },
    });
  }
  if (isObject(out['markArea'])) {
    out['markArea'] = under(out['markArea'], {
      silent: true,
      animation: false,
      itemStyle: { color: p.in },
      label: { color: p.soft, fontSize: 12.5, fontFamily: font },
    });
  }
  if (dim && out['type'] === 'scatter') {
    const style = isObject(out['itemStyle']) ? out['itemStyle'] : {};
    out['itemStyle'] = { ...style, opacity: (typeof style['opacity'] === 'number' ? style['opacity'] : 1) * 0.45 };
  }
  return out;
}

/** Where item i of a series stands, as a scatter item of the same axes. */
function valueAt(s: Json, i: number): unknown {
  const data = s['data'];
  if (!Array.isArray(data)) return undefined;
  const item = isObject(data[i]) ? data[i]['value'] : data[i];
  if (item === null || item === undefined) return undefined;
  return Array.isArray(item) ? item : [i, item];
}

/** One more series for each that has selected serves: rings around their points, on top of everything. */
function marks(option: Json, chart: Chart, p: Palette, chosen: ReadonlySet<string>): Json[] {
  if (chosen.size === 0) return [];
  return listOf(option['series']).flatMap((s, k) => {
    const ties = chart.serves?.[k];
    if (!ties || (s['type'] !== 'scatter' && s['type'] !== 'line')) return [];
    const data = ties
      .flatMap((serve, i) => (serve && chosen.has(serve) ? [valueAt(s, i)] : []))
      .filter((v) => v !== undefined);
    if (data.length === 0) return [];
    const symbol = typeof s['symbolSize'] === 'number' ? s['symbolSize'] : 6;
    return [
      {
        type: 'scatter',
        name: '',
        silent: true,
        z: 50,
        data,
        xAxisIndex: s['xAxisIndex'] ?? 0,
        yAxisIndex: s['yAxisIndex'] ?? 0,
        ...(s['encode'] ? { encode: s['encode'] } : {}),
        ...(s['dimensions'] ? { dimensions: s['dimensions'] } : {}),
        symbolSize: symbol + 5,
        itemStyle: { color: p.clay, borderColor: p.paper, borderWidth: 1.5, opacity: 1 },
        tooltip: { show: false },
      },
    ];
  });
}
