import { describe, expect, it } from 'vitest';
import { Clip, swapped, type ClipInfo } from './clip';

const info: ClipInfo = {
  serve: 's',
  player: 'Noor Salim',
  session: '2026-03-14',
  number: 1,
  recording: 'r',
  file: 'f',
  hand: 'left',
  rate_hz: 10,
  first_s: 2,
  landmarks: ['left_hand', 'right_hand'],
  events: null,
  measures: null,
};
const missing = Number.NaN;
const clip = new Clip(
  info,
  new Float32Array([0, 1, 0.5, 4, 5, 6, 1, 3, 1.5, 4, 5, 6, missing, missing, missing, 4, 5, 6]),
);

it('knows its frames and times', () => {
  expect([clip.frames, clip.from, clip.to]).toEqual([3, 2, 2.2]);
});

describe('at', () => {
  it.each([
    ['on a frame', 'left_hand', 2, [0, 1, 0.5]],
    ['between frames', 'left_hand', 2.05, [0.5, 2, 1]],
    ['before the first frame, there', 'left_hand', 0, [0, 1, 0.5]],
    ['after the last frame, there', 'right_hand', 9, [4, 5, 6]],
  ])('%s', (_, name, t, want) => expect(clip.at(name, t)?.map((v) => Number(v.toFixed(6)))).toEqual(want));
  it('is nowhere where it was not tracked, nor half way to there', () => {
    expect(clip.at('left_hand', 2.2)).toBeUndefined();
    expect(clip.at('left_hand', 2.15)).toBeUndefined();
    expect(clip.at('left_knee', 2)).toBeUndefined();
  });
  it('mirrors the side and the landmark', () => expect(clip.at('right_hand', 2, true)).toEqual([0, 1, -0.5]));
});

it.each([
  ['left_hip', 'right_hip'],
  ['right_toe', 'left_toe'],
  ['racket_left', 'racket_right'],
  ['head', 'head'],
  ['ball', 'ball'],
])('%s mirrored is %s', (name, want) => {
  expect(swapped(name)).toBe(want);
});
