import { expect, it } from 'vitest';
import type { Setting, Value } from './protocol';
import { shown } from './settings';

const setting = (s: Partial<Setting>): Setting => ({ name: 'X', label: 'x', kind: 'number', ...s });

it.each<[string, Partial<Setting>, Value, string]>([
  ['as many decimals as the step has', { unit: 'm', step: 0.01 }, 0.1, '0.10\u00a0m'],
  ['a whole step', { step: 5 }, 40, '40'],
  ['no step', {}, 0.1234, '0.123'],
  ['degrees', { unit: 'deg', step: 1 }, 62, '62°'],
  ['a flag', { kind: 'flag' }, true, 'yes'],
  ['a choice by its title', { kind: 'choice', choices: [{ value: '', title: 'none' }] }, '', 'none'],
  ['a choice that is not listed', { kind: 'choice', choices: [] }, 'Noor Salim', 'Noor Salim'],
  ['several', { kind: 'choices' }, ['a', 'b'], 'a, b'],
  ['nothing', { kind: 'text' }, null, ''],
])('%s', (_, s, value, want) => expect(shown(setting(s), value)).toBe(want));
