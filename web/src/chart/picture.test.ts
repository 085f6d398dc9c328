import { expect, it } from 'vitest';
import type { Chart } from '../protocol';
import { svg, thumbnail } from './picture';

const chart: Chart = {
  height_px: 300,
  summary: 'Two serves.',
  option: {
    xAxis: [{ type: 'value', name: 'Contact offset, m' }],
    yAxis: [{ type: 'category', data: ['Noor Salim'] }],
    series: [
      {
        type: 'scatter',
        data: [
          [0.1, 0],
          [-0.2, 0],
        ],
        symbolSize: 5,
        itemStyle: { color: 'court' },
      },
    ],
  },
};

it('draws a chart with its words as SVG', async () => {
  const text = await (await svg(chart)).text();
  expect(text).toMatch(/^<svg width="780" height="300"/);
  expect(text).toContain('Contact offset, m');
  expect(text).toContain('Noor Salim');
});

it('draws it small, without words', async () => {
  const text = await (await thumbnail(chart)).text();
  expect(text).toMatch(/^<svg width="232" height="160"/);
  expect(text).not.toContain('Contact offset');
  expect(text.match(/<path[^>]*fill="#/g)?.length).toBe(2);
});
