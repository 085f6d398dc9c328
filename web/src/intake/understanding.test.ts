import { expect, it } from 'vitest';
import { obstacle, type Choices, type Fact, type Understanding } from './understanding';

const unknown = { value: '', source: 'unknown' } as Fact<string>;
const read = { player: unknown, session: unknown, notes: null } as unknown as Understanding;

it.each<[string, Partial<Understanding>, Choices, string]>([
  ['nobody said who serves', {}, {}, 'Say who serves; a pseudonym will do.'],
  ['nobody said when', {}, { player: 'Noor' }, 'Say which day this was.'],
  ['both said', {}, { player: 'Noor', session: '2026-03-14' }, ''],
  [
    'both in the file',
    { player: { value: 'Noor', source: 'file' }, session: { value: '2026-03-14', source: 'file' } },
    {},
    '',
  ],
  [
    'a name taken away again',
    { player: { value: 'Noor', source: 'file' } },
    { player: '' },
    'Say who serves; a pseudonym will do.',
  ],
  [
    'a failure comes first',
    {
      notes: [
        { severity: 'info', text: 'a' },
        { severity: 'fail', text: 'No hips.' },
      ],
    },
    {},
    'No hips.',
  ],
])('%s', (_, u, choices, want) => expect(obstacle({ ...read, ...u }, choices)).toBe(want));
