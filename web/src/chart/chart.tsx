// One live chart: drawn by ECharts on a canvas, reached by keyboard, its points tied to serves.
import { useEffect, useRef, useState } from 'preact/hooks';
import { palette } from '../palette';
import type { Chart as ChartData } from '../protocol';
import { clear, pick, select, selected } from '../selection';
import { narrowBelow, prepare } from './option';
import type { EChartsType } from './echarts';

export interface ChartTool {
  mode: 'look' | 'zoom' | 'pick';
}

interface Props {
  chart: ChartData;
  tool: ChartTool['mode'];
  ready?: (chart: EChartsType) => void;
}

export function Chart({ chart, tool, ready }: Props) {
  const box = useRef<HTMLDivElement>(null);
  const [drawing, setDrawing] = useState<EChartsType | null>(null);
  const [narrow, setNarrow] = useState(false);
  const current = useRef(chart);
  current.current = chart;

  useEffect(() => {
    let gone = false;
    let made: EChartsType | undefined;
    const watch = new ResizeObserver(() => {
      made?.resize();
      setNarrow((box.current?.clientWidth ?? narrowBelow) < narrowBelow);
    });
    void import('./echarts').then(({ init }) => {
      if (gone || !box.current) return;
      made = init(box.current, undefined, { renderer: 'canvas' });
      made.on('click', (e) => {
        const serve = serveAt(current.current, e.seriesIndex, e.dataIndex);
        if (serve) pick(serve, (e.event as { event?: MouseEvent } | undefined)?.event);
      });
      made.on('brushselected', (e) => {
        const inside = inArea(current.current, e as never);
        if (inside) select(inside); // each drawing tells, too, that there is no area
      });
      made.on('finished', () => box.current?.setAttribute('data-painted', String(performance.now())));
      watch.observe(box.current);
      setDrawing(made);
      ready?.(made);
    });
    return () => {
      gone = true;
      watch.disconnect();
      made?.dispose();
    };
  }, []);

  const colours = palette.value;
  const chosen = selected.value;
  useEffect(() => {
    drawing?.setOption(prepare(chart, colours, chosen, { narrow }) as never, { notMerge: true, lazyUpdate: false });
  }, [drawing, chart, colours, chosen, narrow]);

  useEffect(() => {
    if (drawing) hold(drawing, tool);
  }, [drawing, tool, chart, colours, chosen, narrow]);

  return (
    <div
      class={`chart ${tool === 'zoom' ? 'zooming' : tool === 'pick' ? 'picking' : ''}`}
      tabIndex={0}
      role="img"
      aria-label={chart.summary}
      onKeyDown={(e) => drawing && walk(drawing, chart, e)}
    >
      <div
        class="drawn"
        ref={(e) => {
          if (e) {
            box.current = e;
            e.style.height = `${chart.height_px || 320}px`;
          }
        }}
      />
    </div>
  );
}

/** Give the pointer its tool. */
function hold(drawing: EChartsType, tool: ChartTool['mode']): void {
  drawing.dispatchAction({ type: 'takeGlobalCursor', key: 'dataZoomSelect', dataZoomSelectActive: tool === 'zoom' });
  drawing.dispatchAction({
    type: 'takeGlobalCursor',
    key: 'brush',
    brushOption: { brushType: tool === 'pick' ? 'rect' : false, brushMode: 'single' },
  });
}

function serveAt(chart: ChartData, series: number | undefined, item: number | undefined): string {
  return series === undefined || item === undefined ? '' : (chart.serves?.[series]?.[item] ?? '');
}

interface Brushed {
  batch?: { areas: unknown[]; selected: { seriesIndex: number; dataIndex: number[] }[] }[];
}

/** The serves in the area that was drawn; undefined where there is none. */
function inArea(chart: ChartData, e: Brushed): string[] | undefined {
  const b = e.batch?.[0];
  if (!b || b.areas.length === 0) return undefined;
  return b.selected.flatMap((s) => s.dataIndex.map((i) => serveAt(chart, s.seriesIndex, i)));
}

const places = new WeakMap<EChartsType, { series: number; item: number }>();

/** Arrow keys go from point to point and show what each is; Enter opens its serve, Escape lets go. */
function walk(drawing: EChartsType, chart: ChartData, e: KeyboardEvent): void {
  const all = (drawing.getOption()['series'] as { data?: unknown[]; silent?: boolean }[]).map((s) =>
    s.silent ? 0 : (s.data?.length ?? 0),
  );
  const at = places.get(drawing) ?? { series: all.findIndex((n) => n > 0), item: -1 };
  if (e.key === 'Escape') {
    drawing.dispatchAction({ type: 'hideTip' });
    clear();
    return;
  }
  if (e.key === 'Enter' || e.key === ' ') {
    pick(serveAt(chart, at.series, at.item), e);
    e.preventDefault();
    return;
  }
  const next = step(all, at, e.key);
  if (!next) return;
  e.preventDefault();
  places.set(drawing, next);
  drawing.dispatchAction({ type: 'showTip', seriesIndex: next.series, dataIndex: next.item });
}

/** The place that a key leads to: left and right within a series, up and down between them. */
export function step(
  counts: number[],
  at: { series: number; item: number },
  key: string,
): { series: number; item: number } | undefined {
  const n = counts[at.series] ?? 0;
  if (n === 0) return undefined;
  const beside = (by: number) => {
    for (let s = at.series + by; s >= 0 && s < counts.length; s += by) {
      const m = counts[s] ?? 0;
      if (m > 0) return { series: s, item: Math.min(Math.max(at.item, 0), m - 1) };
    }
    return at;
  };
  switch (key) {
    case 'ArrowRight':
      return { series: at.series, item: (at.item + 1) % n };
    case 'ArrowLeft':
      return { series: at.series, item: (Math.max(at.item, 0) - 1 + n) % n };
    case 'Home':
      return { series: at.series, item: 0 };
    case 'End':
      return { series: at.series, item: n - 1 };
    case 'ArrowDown':
      return beside(1);
    case 'ArrowUp':
      return beside(-1);
  }
  return undefined;
}
