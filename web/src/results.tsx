// One result, by its kind, and the tools that belong to it.
import { createContext, type ComponentChildren } from 'preact';
import { useContext, useState } from 'preact/hooks';
import { Chart, type ChartTool } from './chart/chart';
import { isEmpty } from './chart/option';
import type { EChartsType } from './chart/echarts';
import { Estimate } from './estimate';
import { Figure } from './figure/figure';
import type { Drawing } from './figure/drawing';
import { Menu, type MenuItem } from './parts/menu';
import type { Chart as ChartData, Result, TableRef } from './protocol';
import { Grid } from './table/grid';
import { selected } from './selection';
import type { RowSource, View } from './table/rows';
import { count, number, unbroken, unit } from './words';

/**
 * Where rows come from, and what can be saved: one on the live page, another in an exported document. Of a table the
 * rows that are shown are saved.
 */
export interface Surroundings {
  rows(table: TableRef): RowSource;
  chartItems(chart: ChartData, name: string): MenuItem[];
  tableItems(table: TableRef, name: string, view: View): MenuItem[];
}

export const Around = createContext<Surroundings>(null as never);

interface Shown {
  name: string;
  quiet?: ComponentChildren; // what the quiet line says before the tools
}

/** Whether a result has a quiet line of its own. */
export const hasLine = (r: Result | undefined): boolean =>
  r?.kind === 'chart' || r?.kind === 'table' || r?.kind === 'figure';

export function ResultView({ result, name, quiet }: { result: Result } & Shown) {
  switch (result.kind) {
    case 'chart':
      return result.chart ? <ChartView chart={result.chart} name={name} quiet={quiet} /> : null;
    case 'table':
      return result.table ? <TableView table={result.table} name={name} quiet={quiet} /> : null;
    case 'figure':
      return result.figure ? <Figure drawing={result.figure as Drawing} quiet={quiet} /> : null;
    case 'estimate':
      return result.estimate ? <Estimate estimate={result.estimate} /> : null;
    case 'number':
      return result.number ? (
        <p class="number">
          {number(result.number.value)}
          <small>
            {' '}
            {unit(result.number.unit)} {result.number.label}
          </small>
        </p>
      ) : null;
    case 'text':
      return (
        <div class="prose">
          <p>{unbroken(result.text ?? '')}</p>
        </div>
      );
    case 'list':
      return (
        <div class="results">
          {(result.list ?? []).map((r, i) => (
            <ResultView key={i} result={r} name={`${name}-${i + 1}`} />
          ))}
        </div>
      );
  }
}

function ChartView({ chart, name, quiet }: { chart: ChartData } & Shown) {
  const around = useContext(Around);
  const [tool, setTool] = useState<ChartTool['mode']>('look');
  const [data, setData] = useState(false);
  const [drawing, setDrawing] = useState<EChartsType | null>(null);
  const flat = chart.option['xAxis'] !== undefined;
  if (isEmpty(chart.option))
    return (
      <div>
        <p class="nothing alone">Nothing to draw.</p>
        {quiet && <div class="quiet">{quiet}</div>}
      </div>
    );
  const tied = chart.serves?.some((s) => s?.some(Boolean));
  const take = (t: ChartTool['mode']) => setTool(tool === t ? 'look' : t);
  return (
    <div>
      <Chart chart={chart} tool={tool} ready={setDrawing} />
      <div class="quiet">
        {quiet}
        <span class="tools">
          {flat && (
            <button type="button" class="link" aria-pressed={tool === 'zoom'} onClick={() => take('zoom')}>
              Zoom
            </button>
          )}
          {flat && tool === 'zoom' && (
            <button type="button" class="link" onClick={() => drawing && whole(drawing)}>
              Whole
            </button>
          )}
          {flat && tied && (
            <button type="button" class="link" aria-pressed={tool === 'pick'} onClick={() => take('pick')}>
              Select
            </button>
          )}
          {chart.data && (
            <button type="button" class="link" aria-expanded={data} onClick={() => setData(!data)}>
              Numbers
            </button>
          )}
          <Menu name="Save" items={around.chartItems(chart, name)} />
        </span>
      </div>
      {data && chart.data && <TableView table={chart.data} name={`${name}, numbers`} />}
    </div>
  );
}

/** Show all of a zoomed chart again. */
function whole(drawing: EChartsType): void {
  const zooms = (drawing.getOption()['dataZoom'] as unknown[] | undefined) ?? [];
  zooms.forEach((_, i) => drawing.dispatchAction({ type: 'dataZoom', dataZoomIndex: i, start: 0, end: 100 }));
}

function TableView({ table, name, quiet }: { table: TableRef } & Shown) {
  const around = useContext(Around);
  const [filtering, setFiltering] = useState(false);
  const [only, setOnly] = useState<string[]>();
  const [view, setView] = useState<View>({ order: '', filter: [] });
  const [rows, setRows] = useState(table.rows);
  const tell = (wanted: View, shown: number) => {
    setView(wanted);
    setRows(shown);
  };
  const ofServes = table.columns.some((c) => c.name === 'serve');
  return (
    <div>
      {table.caption && <p class="caption">{table.caption}</p>}
      <div class="sheet-table">
        {table.rows === 0 ? (
          <p class="nothing">Nothing to list.</p>
        ) : (
          <Grid {...{ table, name, filtering, only }} source={around.rows(table)} tell={tell} />
        )}
      </div>
      <div class="quiet">
        <span>
          {view.filter.length > 0 && `${rows.toLocaleString('en')} of `}
          {count(table.rows, 'row')}
        </span>
        {quiet}
        <span class="tools">
          {ofServes && (only || selected.value.size > 0) && (
            <button
              type="button"
              class="link"
              aria-pressed={!!only}
              onClick={() => setOnly(only ? undefined : [...selected.value])}
            >
              Selected only
            </button>
          )}
          <button type="button" class="link" aria-pressed={filtering} onClick={() => setFiltering(!filtering)}>
            Filter
          </button>
          <Menu name="Save" items={around.tableItems(table, name, view)} />
        </span>
      </div>
    </div>
  );
}
