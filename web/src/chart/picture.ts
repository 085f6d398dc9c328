// A chart as a picture: for saving, and small for the shelf.
import { palette } from '../palette';
import type { Palette } from '../palette';
import type { Chart } from '../protocol';
import { narrowBelow, prepare } from './option';

const none: ReadonlySet<string> = new Set();

async function draw<T>(
  chart: Chart,
  renderer: 'canvas' | 'svg',
  width: number,
  height: number,
  p: Palette,
  use: (c: import('./echarts').EChartsType) => T,
): Promise<T> {
  const { init } = await import('./echarts');
  const drawing = init(null as never, undefined, { renderer, ssr: renderer === 'svg', width, height } as never);
  try {
    drawing.setOption(prepare(chart, p, none, { still: true, narrow: width < narrowBelow }) as never);
    return use(drawing);
  } finally {
    drawing.dispose();
  }
}

/** The chart as an SVG image, on paper. */
export function svg(chart: Chart, width = 780): Promise<Blob> {
  const p = palette.peek();
  return draw(chart, 'svg', width, chart.height_px || 320, p, (c) => {
    c.setOption({ backgroundColor: p.paper });
    return new Blob([c.renderToSVGString()], { type: 'image/svg+xml' });
  });
}

/** The chart as a PNG image at double resolution, on paper. */
export async function png(chart: Chart, width = 780): Promise<Blob> {
  const height = chart.height_px || 320;
  const image = await createImageBitmapOf(await svg(chart, width), width * 2, height * 2);
  const canvas = document.createElement('canvas');
  canvas.width = width * 2;
  canvas.height = height * 2;
  canvas.getContext('2d')?.drawImage(image, 0, 0, canvas.width, canvas.height);
  return new Promise((done, fail) =>
    canvas.toBlob((b) => (b ? done(b) : fail(new Error('The picture could not be drawn.'))), 'image/png'),
  );
}

function createImageBitmapOf(blob: Blob, width: number, height: number): Promise<HTMLImageElement> {
  return new Promise((done, fail) => {
    const image = new Image(width, height);
    const url = URL.createObjectURL(blob);
    image.onload = () => {
      URL.revokeObjectURL(url);
      done(image);
    };
    image.onerror = () => fail(new Error('The picture could not be drawn.'));
    image.src = url;
  });
}

/** The chart as a small picture without words. */
export function thumbnail(chart: Chart): Promise<Blob> {
  const wordless = (s: object) => ({ ...s, markLine: undefined, markArea: undefined, label: { show: false } });
  const { series } = chart.option;
  const bare: Chart = {
    ...chart,
    option: {
      ...chart.option,
      legend: undefined,
      title: undefined,
      series: Array.isArray(series) ? series.map(wordless) : series,
    },
  };
  return draw(bare, 'svg', 232, 160, palette.peek(), (c) => {
    const now = c.getOption() as { xAxis?: unknown[]; yAxis?: unknown[] };
    const hidden = {
      name: '',
      axisLabel: { show: false },
      axisTick: { show: false },
      axisLine: { show: false },
      splitLine: { show: false },
    };
    c.setOption({
      grid: { left: 4, right: 4, top: 4, bottom: 4, containLabel: false },
      xAxis: (now.xAxis ?? []).map(() => hidden),
      yAxis: (now.yAxis ?? []).map(() => hidden),
    });
    return new Blob([c.renderToSVGString()], { type: 'image/svg+xml' });
  });
}
