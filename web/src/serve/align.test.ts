import { describe, expect, it } from 'vitest';
import { aligned } from './align';
import { Clip, type ClipInfo } from './clip';

function clip(first_s: number, events: Record<string, number>): Clip {
  const info = {
    serve: '',
    player: '',
    session: '',
    number: 1,
    recording: '',
    file: '',
    hand: 'right',
    rate_hz: 100,
    first_s,
    landmarks: [],
    measures: null,
    events: Object.entries(events).map(([kind, time_s]) => ({ kind, time_s, method: '', confidence: 1 })),
  } satisfies ClipInfo;
  return new Clip(info, new Float32Array());
}

describe('aligned', () => {
  const a = clip(0, { release: 1, trophy: 2, contact: 3 }),
    b = clip(10, { release: 11, trophy: 12.5, contact: 13 });
  it.each([
    ['at a common event', 2, 12.5],
    ['between events, stretched', 1.5, 11.75],
    ['between events, pressed', 2.5, 12.75],
    ['before the first, as it runs', 0.5, 10.5],
    ['after the last, as it runs', 3.4, 13.4],
  ])('%s', (_, t, want) => expect(aligned(a, b, t)).toBeCloseTo(want, 9));

  it('runs from start to start where no event is common', () => {
    expect(aligned(a, clip(10, { landing: 12 }), 0.5)).toBeCloseTo(10.5, 9);
  });
  it('passes over an event that is out of order in one of them', () => {
    expect(aligned(a, clip(10, { release: 11, trophy: 10.5, contact: 13 }), 2)).toBeCloseTo(12, 9);
  });
});
