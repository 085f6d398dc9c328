// A line of session means, small enough to stand beside a name. All lines of a list have one scale.
interface Props {
  values: (number | null)[];
  range: [number, number];
}

const width = 66,
  height = 20,
  edge = 2.5;

export function Sparkline({ values, range }: Props) {
  const n = values.length;
  const x = (i: number) => (n > 1 ? edge + (i / (n - 1)) * (width - 2 * edge) : width / 2);
  const y = (v: number) => height - edge - ((v - range[0]) / (range[1] - range[0] || 1)) * (height - 2 * edge);
  const parts: string[] = [];
  let up = true;
  values.forEach((v, i) => {
    if (v === null) {
      up = true;
      return;
    }
    parts.push(`${up ? 'M' : 'L'}${x(i).toFixed(1)},${y(v).toFixed(1)}`);
    up = false;
  });
  const last = values.findLastIndex((v) => v !== null);
  const end = values[last];
  return (
    <svg class="spark" viewBox={`0 0 ${width} ${height}`} aria-hidden="true">
      {range[0] < 0 && range[1] > 0 && <line x1="0" x2={width} y1={y(0)} y2={y(0)} />}
      <path d={parts.join(' ')} />
      {typeof end === 'number' && <circle cx={x(last)} cy={y(end)} r="2" />}
    </svg>
  );
}
