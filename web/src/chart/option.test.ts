import { describe, expect, it } from 'vitest';
import type { Palette } from '../palette';
import type { Chart } from '../protocol';
import { isEmpty, largeFrom, prepare, resolve, size, spread } from './option';

const p = new Proxy({} as Palette, {
  get: (_, role) =>
    String(role).match(/^(paper|card|ink|soft|faint|line|rule|in|clay|clay-in|court|trouble|series-\d)$/)
      ? `#${String(role)}`
      : undefined,
});
const none: ReadonlySet<string> = new Set();

const strip: Chart = {
  height_px: 300,
  summary: 'Two serves.',
  option: {
    xAxis: [{ type: 'value', name: 'Contact offset, m' }],
    yAxis: [{ type: 'category', data: ['Noor'] }],
    series: [
      {
        type: 'scatter',
        data: [
          [0.1, 0],
          [-0.2, 0],
        ],
        symbolSize: 5,
        itemStyle: { color: 'court', opacity: 0.5 },
      },
      { type: 'line', data: [1, 2, 3] },
    ],
    toolbox: { feature: { saveAsImage: {} } },
  },
  serves: [['r1', 'r2'], null],
};

type Series = {
  type: string;
  data: unknown[];
  silent?: boolean;
  itemStyle?: { opacity?: number; color?: string };
  large?: boolean;
  showSymbol?: boolean;
  sampling?: string;
  animation?: boolean;
};
const series = (o: Record<string, unknown>) => o['series'] as Series[];

describe('resolve', () => {
  it.each([
    ['a colour', { color: 'clay' }, { color: '#clay' }],
    ['a list of colours', { color: ['court', '#123456'] }, { color: ['#court', '#123456'] }],
    ['a word that is no colour', { type: 'line', name: 'court' }, { type: 'line', name: 'court' }],
    [
      'an item with its own colour',
      { data: [{ value: 1, itemStyle: { color: 'clay' } }] },
      { data: [{ value: 1, itemStyle: { color: '#clay' } }] },
    ],
    [
      'pairs of numbers',
      {
        data: [
          [1, 2],
          [3, null],
        ],
      },
      {
        data: [
          [1, 2],
          [3, null],
        ],
      },
    ],
    ['null', { min: null }, { min: null }],
  ])('%s', (_, option, want) => expect(resolve(option, p)).toEqual(want));

  it('puts functions in for named formatters only', () => {
    const { formatter } = resolve({ formatter: 'named:signed' }, p) as { formatter: (v: number) => string };
    expect(formatter(0.12)).toBe('+0.12');
    expect(resolve({ formatter: '{b}: {c}' }, p)).toEqual({ formatter: '{b}: {c}' });
    expect((resolve({ formatter: 'named:unheard' }, p) as { formatter: unknown }).formatter).toBeUndefined();
  });
});

describe('prepare', () => {
  it('keeps what the step said and puts the page’s own under it', () => {
    const out = prepare(strip, p, none);
    const [x] = out['xAxis'] as { name: string; axisLabel: { color: string } }[];
    expect(x).toMatchObject({ name: 'Contact offset, m', nameLocation: 'middle', axisLabel: { color: '#soft' } });
    expect(series(out)).toHaveLength(2);
    expect(series(out)[0]).toMatchObject({
      data: [
        [0.1, 0],
        [-0.2, 0],
      ],
      itemStyle: { color: '#court', opacity: 0.5 },
    });
    expect(out['animation']).toBe(false);
  });
  it('draws no HTML and shows no tool buttons', () => {
    const out = prepare(strip, p, none);
    expect(out['tooltip']).toMatchObject({ renderMode: 'richText', confine: true });
    expect(out['toolbox']).toMatchObject({ right: -200 });
    expect(prepare(strip, p, none, { still: true })['toolbox']).toBeUndefined();
  });
  it('leaves the option of the step as it was', () => {
    const before = JSON.stringify(strip);
    prepare(strip, p, new Set(['r1']));
    expect(JSON.stringify(strip)).toBe(before);
  });
  it('rings the selected serves and dims the others', () => {
    const out = series(prepare(strip, p, new Set(['r2', 'elsewhere'])));
    expect(out).toHaveLength(3);
    expect(out[2]).toMatchObject({ type: 'scatter', silent: true, data: [[-0.2, 0]], itemStyle: { color: '#clay' } });
    expect(out[0]?.itemStyle?.opacity).toBeCloseTo(0.225);
  });
  it('gives a plain value its place along the category axis', () => {
    const chart: Chart = {
      ...strip,
      option: { series: [{ type: 'line', data: [5, { value: 7 }] }] },
      serves: [['a', 'b']],
    };
    expect(series(prepare(chart, p, new Set(['b'])))[1]?.data).toEqual([[1, 7]]);
  });
  it('draws many points the fast way', () => {
    const data = Array.from({ length: largeFrom }, (_, i) => [i, i]);
    expect(series(prepare({ ...strip, option: { series: [{ type: 'scatter', data }] } }, p, none))[0]?.large).toBe(
      true,
    );
    expect(
      series(prepare({ ...strip, option: { series: [{ type: 'scatter', data: data.slice(1) }] } }, p, none))[0]?.large,
    ).toBeUndefined();
    const long = Array.from({ length: 20001 }, (_, i) => i);
    expect(series(prepare({ ...strip, option: { series: [{ type: 'line', data: long }] } }, p, none))[0]).toMatchObject(
      { showSymbol: false, sampling: 'lttb' },
    );
  });
});

it('counts the points of all series', () => expect(size(strip.option)).toBe(5));

describe('lines through time', () => {
  const course = (names: string[], more: object = {}): Chart => ({
    height_px: 300,
    summary: '',
    option: {
      grid: { left: 8, right: 16 },
      legend: { show: false },
      xAxis: [{ type: 'time' }],
      yAxis: [{ type: 'value' }],
      series: names.map((name) => ({ type: 'line', name, data: [[0, 1]] })),
      ...more,
    },
  });
  const ends = (c: Chart, how = {}) =>
    series(prepare(c, p, none, how))
      .filter((s) => s.type === 'scatter')
      .flatMap((s) => s.data.map((d) => (d as { label: { formatter: string } }).label.formatter));

  it.each([
    ['of several players', course(['Noor', 'Ines']), {}, ['Noor', 'Ines']],
    ['of one player', course(['Noor', 'Noor']), {}, []],
    ['that the legend explains', course(['before', 'after'], { legend: { data: [{ name: 'before' }] } }), {}, []],
    ['over something else than time', course(['Noor', 'Ines'], { xAxis: [{ type: 'value' }] }), {}, []],
    ['on the shelf', course(['Noor', 'Ines']), { still: true, narrow: true }, []],
  ])('%s', (_, chart, how, want) => expect(ends(chart, how)).toEqual(want));

  it('leave room for the longest name', () =>
    expect(
      (prepare(course(['Noor', 'Maximiliana']), p, none)['grid'] as { right: number }[])[0]?.right,
    ).toBeGreaterThan(80));
});

it('leaves the words at both sides of an upright line out where there is little room', () => {
  const sides = [[{ name: 'inside', xAxis: -1, label: { show: true } }, { xAxis: 0 }]];
  const across = [[{ name: 'above', yAxis: 0, label: { show: true } }, { yAxis: 1 }]];
  const shown = (data: unknown, narrow: boolean) => {
    const option = { series: [{ type: 'scatter', data: [], markArea: { data } }] };
    const [s] = series(prepare({ ...strip, option }, p, none, { narrow }));
    return (s as unknown as { markArea: { data: { label: { show: boolean } }[][] } }).markArea.data[0]?.[0]?.label.show;
  };
  expect([shown(sides, false), shown(sides, true), shown(across, true)]).toEqual([true, false, true]);
});

it.each([
  ['points', { series: [{ data: [] }, { data: [1] }] }, false],
  ['a data set', { series: [{}], dataset: {} }, false],
  ['only a line across', { series: [{ data: [], markLine: { data: [{ yAxis: 0 }] } }] }, true],
  ['no series', {}, true],
])('a chart with %s is empty or not', (_, option, want) => expect(isEmpty(option)).toBe(want));

it.each([
  ['far apart', [100, 0, 50], [0, 0, 0]],
  ['at one height', [20, 20, 20], [0, 14, 28]],
  ['close, in any order', [30, 0, 10], [0, 0, 4]],
  ['of unknown height', [Number.NaN, 5], [0, 0]],
])('names %s are spread', (_, heights, want) => expect(spread(heights)).toEqual(want));
