// The parts of ECharts that the page uses, loaded when the first chart is drawn.
import { init, use } from 'echarts/core';
import { BarChart, BoxplotChart, CustomChart, EffectScatterChart, HeatmapChart, LineChart, ParallelChart, PieChart, RadarChart, ScatterChart } from 'echarts/charts';
import {
  AriaComponent, BrushComponent, DatasetComponent, DataZoomComponent, GraphicComponent, GridComponent, LegendComponent,
  MarkAreaComponent, MarkLineComponent, MarkPointComponent, ParallelComponent, PolarComponent, RadarComponent,
  SingleAxisComponent, TitleComponent, ToolboxComponent, TooltipComponent, TransformComponent, VisualMapComponent,
} from 'echarts/components';
import { CanvasRenderer, SVGRenderer } from 'echarts/renderers';

use([
  BarChart, BoxplotChart, CustomChart, EffectScatterChart, HeatmapChart, LineChart, ParallelChart, PieChart, RadarChart, ScatterChart,
  AriaComponent, BrushComponent, DatasetComponent, DataZoomComponent, GraphicComponent, GridComponent, LegendComponent,
  MarkAreaComponent, MarkLineComponent, MarkPointComponent, ParallelComponent, PolarComponent, RadarComponent,
  SingleAxisComponent, TitleComponent, ToolboxComponent, TooltipComponent, TransformComponent, VisualMapComponent,
  CanvasRenderer, SVGRenderer,
]);

export { init };
export type { EChartsType } from 'echarts/core';
