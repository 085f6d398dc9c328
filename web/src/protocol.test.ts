import { describe, expect, it } from 'vitest';
import wire from '../../workbench/server/protocol.go?raw';
import engine from '../../kernel/interp/words.go?raw';
import language from '../../kernel/interp/language/language.go?raw';
import results from '../../kernel/result/result.go?raw';
import drawing from '../../kernel/figure/drawing.go?raw';
import clip from './serve/clip.ts?raw';
import drawn from './figure/drawing.ts?raw';
import page from './protocol.ts?raw';

/** The JSON names of each struct of a Go file. */
function structs(go: string): Map<string, string[]> {
  return new Map(
    [...go.matchAll(/^type (\w+) struct \{\n(.*?)^\}/gms)].map(([, name = '', body = '']) => [
      name,
      [...body.matchAll(/json:"(\w+)/g)].map((m) => m[1] ?? ''),
    ]),
  );
}

/** The names in each interface of a TypeScript file, and which of them may be absent. */
function interfaces(ts: string): Map<string, string[]> {
  return new Map(
    [...ts.matchAll(/^export interface (\w+)[^{]*\{\n(.*?)^\}/gms)].map(([, name = '', body = '']) => [
      name,
      [...body.matchAll(/^ {2}(\w+)\??:/gm)].map((m) => m[1] ?? ''),
    ]),
  );
}

const go = {
  wire: structs(wire),
  engine: structs(engine),
  language: structs(language),
  results: structs(results),
  drawing: structs(drawing),
};
const ts = { page: interfaces(page), clip: interfaces(clip), drawn: interfaces(drawn) };

describe('every name that the page reads is one that Go writes', () => {
  it.each([
    ...[
      'Welcome',
      'Overview',
      'Player',
      'Session',
      'ShelfEntry',
      'Desk',
      'Step',
      'Progress',
      'EngineState',
      'Version',
      'Filter',
      'Group',
      'Changed',
      'Change',
      'Listing',
      'RecordingLine',
      'ServeLine',
    ].map((n) => [n, ts.page, go.wire] as const),
    ...['Plan', 'PlanStep', 'Setting', 'Choice', 'Diagnostic'].map((n) => [n, ts.page, go.engine] as const),
    ...['Signature', 'Definition', 'Completions', 'Hover'].map((n) => [n, ts.page, go.language] as const),
    ...['Result', 'LeftOut', 'Chart', 'Column', 'Estimate'].map((n) => [n, ts.page, go.results] as const),
    ...['Drawing', 'View', 'Panel', 'Line'].map((n) => [n, ts.drawn, go.drawing] as const),
    ['ClipInfo', ts.clip, go.wire] as const,
  ])('%s', (name, read, written) => {
    const names = read.get(name) ?? [];
    expect(names.length).toBeGreaterThan(0);
    expect(written.get(name)).toEqual(expect.arrayContaining(names));
  });
});
