// What travels over the websocket. The twin of workbench/server/protocol.go: change both together.

export interface Welcome {
  version: string;
  season: Overview;
  shelf: ShelfEntry[];
  engine: EngineState;
  formats: string[];
  limits: { file_bytes: number; recipe_bytes: number };
}

export interface Overview {
  name: string;
  folder: string;
  serves: number;
  from?: string;
  to?: string;
  demo?: boolean;
  read_only?: string;
  players: Player[];
  measures: Choice[];
  tables: KeptTable[];
}

export interface Choice {
  value: string;
  title: string;
  unit?: string;
}

export interface Player {
  name: string;
  hand?: string;
  birth_year?: number;
  level?: string;
  height_m?: number;
  serves: number;
  sessions: Session[];
}

/** A table that came from elsewhere and that the season keeps. */
export interface KeptTable {
  name: string;
  rows: number;
  file: string;
  at: string;
}

export interface Session {
  date: string;
  serves: number;
  cut_off?: number;
  first?: string;
  means?: Record<string, number>;
}

export interface ShelfEntry {
  recipe: string;
  title: string;
  line?: string;
  shipped?: boolean;
  unread?: boolean;
}

export type Value = string | number | boolean | string[] | null;

export interface Desk {
  recipe: string;
  file: string;
  source: string;
  revision: string;
  saved?: string;
  unread?: boolean;
  imports?: string[];
  by?: string;
  plan: Plan;
  values: Record<string, Value> | null;
  diagnostics: Diagnostic[] | null;
  steps: Step[] | null;
  running: boolean;
  progress?: Progress;
  error?: string;
}

export interface Plan {
  title: string;
  prose?: string;
  steps: PlanStep[] | null;
  settings: Setting[] | null;
}

export interface PlanStep {
  name: string;
  title: string;
  prose?: string;
  first: number;
  last: number;
  inputs?: string[];
}

export interface Setting {
  name: string;
  label: string;
  kind: 'number' | 'integer' | 'flag' | 'choice' | 'choices' | 'date' | 'text';
  unit?: string;
  min?: number;
  max?: number;
  step?: number;
  default?: Value;
  choices?: Choice[];
}

export interface Diagnostic {
  severity: 'error' | 'warning';
  line: number;
  column: number;
  end_line?: number;
  end_column?: number;
  message: string;
  step?: string;
}

export interface Step {
  name: string;
  state: 'waiting' | 'running' | 'done' | 'failed' | 'skipped';
  old?: boolean;
  took_ms: number;
  kept?: boolean;
  results?: Result[];
  error?: { message: string; line?: number; column?: number };
}

export interface Progress {
  step: string;
  done: number;
  total: number;
  left_s?: number;
}

export interface EngineState {
  state: 'starting' | 'ready' | 'ended';
  message?: string;
  fence?: string;
}

export interface Result {
  kind: 'chart' | 'table' | 'figure' | 'estimate' | 'number' | 'text' | 'list';
  serves?: number;
  left_out?: LeftOut[];
  chart?: Chart;
  table?: TableRef;
  figure?: unknown;
  estimate?: Estimate;
  number?: { value: number | null; unit?: string; label?: string };
  text?: string;
  list?: Result[];
}

export interface LeftOut {
  reason: string;
  serves: string[] | null;
}

export interface Chart {
  option: Record<string, unknown>;
  height_px: number;
  summary: string;
  serves?: (string[] | null)[];
  data?: TableRef;
}

export interface TableRef {
  caption?: string;
  ref: string;
  rows: number;
  columns: Column[];
}

export interface Column {
  definition?: string;
  name: string;
  title: string;
  unit?: string;
  type: 'number' | 'integer' | 'text' | 'date' | 'time' | 'bool';
}

export interface Estimate {
  name: string;
  value: number | null;
  low: number | null;
  high: number | null;
  level: number;
  unit?: string;
  n: number;
  sentence: string;
}

export interface Filter {
  column: string;
  text?: string;
  one_of?: string[];
  min?: number;
  max?: number;
}

/** Serves that somebody chose and named. */
export interface Group {
  name: string;
  serves: string[];
}

export interface Version {
  sha256: string;
  at: string;
}

export interface Completions {
  from: number;
  items: { label: string; kind: string; detail?: string; doc?: string }[] | null;
}

export interface Hover {
  from: number;
  to: number;
  text: string;
}

/** What the server tells unasked, by type. */
export interface Pushes {
  season: Overview;
  shelf: ShelfEntry[];
  engine: EngineState;
  groups: Group[];
  desk: Desk;
  values: Record<string, Value>;
  running: boolean;
  plan: { plan: Plan; steps: Step[] };
  diagnostics: Diagnostic[] | null;
  step: Step;
  progress: Progress;
  ended: { error?: string; steps: Step[] | null };
  verify: { done: number; total: number };
  intake: { upload: string; done: number; total: number };
}

export interface Signature {
  label: string;
  doc?: string;
  params: string[] | null;
  active: number;
}

export interface Definition {
  line: number;
  column: number;
}

/** A change by hand: one field of a serve, a recording or a player. An empty value means that it is not known. */
export interface Edit {
  target: 'serve' | 'recording' | 'player' | 'table';
  subject: string;
  field: string;
  value: string;
}

export interface Changed {
  batch: number;
  serves?: string[];
}

export interface Change {
  batch: number;
  at: string;
  undone?: string;
  sentence: string;
}

/** What checking every file found. */
export interface Report {
  recordings: number;
  serves: number;
  problems: { where: string; text: string }[] | null;
  notes?: { where: string; text: string }[]; // worth knowing, and not wrong
}

export interface Listing {
  recordings: RecordingLine[];
  serves: ServeLine[];
}

export interface RecordingLine {
  recording: string;
  file: string;
  format: string;
  player: string;
  session: string;
  hand: string;
  rate_hz: number;
  seconds: number;
  problem?: string;
}

export interface ServeLine {
  serve: string;
  recording: string;
  from_s: number;
  to_s: number;
  contact_s: number | null;
  left_out?: string;
  by_hand?: string[];
  serve_type?: string;
  court_side?: string;
  stance_type?: string;
  outcome?: string;
  ball_speed_m_s?: number;
}
