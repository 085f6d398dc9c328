// How a file was understood before anything is stored: the JSON of datasets/recording.Understanding, and what the user
// corrects: recording.Options.
import { count } from '../words';

export interface Fact<T> {
  value: T;
  source: 'said' | 'file' | 'guessed' | 'unknown';
  evidence?: string;
}

export interface Understanding {
  file: string;
  recording: string;
  format: string;
  frames: number;
  rate_hz: number;
  duration_s: number;
  rate: Fact<number>;
  units: Fact<string>;
  up: Fact<string>;
  forward: Fact<string>;
  floor: Fact<number>;
  hand: Fact<string>;
  player: Fact<string>;
  session: Fact<string>;
  height_m: Fact<number>;
  landmarks: {
    found: string[] | null;
    missing: string[] | null;
    unknown: string[] | null;
    kept?: boolean;
    map: Record<string, string> | null;
  };
  serves: ServeFound[] | null;
  notes: { severity: 'info' | 'warn' | 'fail'; where?: string; text: string }[] | null;
}

export interface ServeFound {
  from_s: number;
  to_s: number;
  contact_s: number | null;
  cut_off: boolean;
  why?: string;
}

/** What a table of what is known beside recordings, or one of changes or groups, brings into the season. */
export interface Brought {
  changes: number; // by hand, in the table
  edits?: unknown[]; // that say what is not so already
  groups?: { name: string; serves: string[] }[]; // that change
  not_found?: string[]; // rows about recordings and serves that are not there
}

/** Whether anything becomes other than it is. */
export const brings = (b: Brought): boolean => !!b.edits?.length || !!b.groups?.length;

export interface Choices {
  units?: string;
  up?: string;
  forward?: string;
  rate_hz?: number;
  hand?: string;
  player?: string;
  session?: string;
  height_m?: number;
  sides?: string;
  map?: Record<string, string>; // our landmark: what it is made of, in the file's names
}

/** How a file that is no recording was understood as a table: the JSON of datasets/sheet.Understood. */
export interface Whole {
  format: string;
  rows: number;
  columns: { name: string; type: string; unit?: string; missing: number }[];
  notes?: string[];
}

/** A name under which a table can be kept, from that of its file. */
export const tableName = (file: string): string =>
  file
    .replace(/(\.gz)?$/i, '')
    .replace(/\.[^.]*$/, '')
    .trim()
    .slice(0, 60) || 'table';

/** What a table holds, as a reader would say it. */
export function holds(w: Whole): string {
  const most = 6;
  const names = w.columns.slice(0, most).map((c) => (c.unit ? `${c.name} in ${c.unit}` : c.name));
  const more = w.columns.length - names.length;
  return `${count(w.rows, 'row')} of ${names.join(', ')}${more > 0 ? ` and ${count(more, 'more column')}` : ''}`;
}

/** What keeps a file from being imported, in a sentence; "" where nothing does. */
export function obstacle(u: Understanding, c: Choices): string {
  const fail = u.notes?.find((n) => n.severity === 'fail');
  if (fail) return fail.text;
  if (!(c.player ?? u.player.value)) return 'Say who serves; a pseudonym will do.';
  if (!(c.session ?? u.session.value)) return 'Say which day this was.';
  return '';
}
