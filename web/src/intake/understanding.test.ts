import { expect, it } from 'vitest';
import {
  holds,
  obstacle,
  tableName,
  type Choices,
  type Fact,
  type Understanding,
  type Whole,
} from './understanding';

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

it.each<[string, string]>([
  ['lab.csv', 'lab'],
  ['force plates 2026.parquet', 'force plates 2026'],
  ['wellness.csv.gz', 'wellness'],
  ['.csv', 'table'],
  ['no ending', 'no ending'],
])('a table from %s is offered as %s', (file, name) => expect(tableName(file)).toBe(name));

const column = (name: string, unit?: string) => ({ name, type: 'number', missing: 0, ...(unit ? { unit } : {}) });

it.each<[string, Partial<Whole>, string]>([
  ['one row', { rows: 1, columns: [column('serve'), column('force_N', 'N')] }, '1 row of serve, force_N in N'],
  [
    'many columns',
    { rows: 12, columns: Array.from({ length: 8 }, (_, i) => column(`c${i}`)) },
    '12 rows of c0, c1, c2, c3, c4, c5 and 2 more columns',
  ],
])('%s is said in words', (_, w, want) => expect(holds({ format: 'csv', rows: 0, columns: [], ...w })).toBe(want));
