// An estimate: its value large, its interval drawn, and the sentence that says what it means.
import type { Estimate as EstimateData } from './protocol';
import { decimalsFor, signed, unbroken, unit } from './words';

export function Estimate({ estimate: e }: { estimate: EstimateData }) {
  return (
    <div class="estimate">
      {e.value !== null && (
        <span class="value">
          {signed(e.value)}
          {e.unit === 'deg' ? '°' : <small> {unit(e.unit)}</small>}
        </span>
      )}
      <p>{unbroken(e.sentence)}</p>
      {e.low !== null && e.high !== null && e.value !== null && (
        <Interval low={e.low} high={e.high} value={e.value} zero={e.unit !== 'p'} />
      )}
    </div>
  );
}

/** The interval on a line, with zero where it is near enough to matter. */
function Interval({ low, high, value, zero }: { low: number; high: number; value: number; zero: boolean }) {
  const span = high - low || 1;
  const ends = zero && low > -4 * span && high < 4 * span ? [Math.min(low, 0), Math.max(high, 0)] : [low, high];
  const pad = ((ends[1] as number) - (ends[0] as number) || 1) * 0.12;
  const from = (ends[0] as number) - pad,
    to = (ends[1] as number) + pad;
  const x = (v: number) => 10 + ((v - from) / (to - from)) * 500;
  const decimals = Math.max(decimalsFor(low), decimalsFor(high));
  const zeroStands = Math.min(Math.abs(x(low) - x(0)), Math.abs(x(high) - x(0))) > 34;
  return (
    <svg viewBox="0 0 520 34" role="img" aria-label={`Interval from ${signed(low)} to ${signed(high)}`}>
      <line x1="10" x2="510" y1="12" y2="12" stroke="var(--line)" />
      {from < 0 && to > 0 && (
        <>
          <line x1={x(0)} x2={x(0)} y1="3" y2="21" stroke="var(--ink)" />
          {zeroStands && (
            <text x={x(0)} y="33" text-anchor="middle" font-size="12" fill="var(--soft)">
              0
            </text>
          )}
        </>
      )}
      <line x1={x(low)} x2={x(high)} y1="12" y2="12" stroke="var(--court)" stroke-width="3.5" stroke-linecap="round" />
      <circle cx={x(value)} cy="12" r="5" fill="var(--court)" stroke="var(--paper)" stroke-width="1.5" />
      {[low, high].map((v) => (
        <text key={v} x={x(v)} y="33" text-anchor="middle" font-size="12" fill="var(--soft)">
          {signed(v, decimals)}
        </text>
      ))}
    </svg>
  );
}
