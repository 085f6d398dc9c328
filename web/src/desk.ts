// The recipe that lies open: its text, settings and results. The server has the truth; this follows it.
import { batch, computed, signal } from '@preact/signals';
import { address } from './address';
import { link } from './link';
import type { Desk, Diagnostic, Plan, PlanStep, Progress, Step, Value } from './protocol';

export const recipe = signal('');
export const text = signal<{ source: string; revision: string; saved: string }>({
  source: '',
  revision: '',
  saved: '',
});
export const unread = signal<Pick<Desk, 'imports' | 'by'> | null>(null);
export const plan = signal<Plan | null>(null);
export const steps = signal<ReadonlyMap<string, Step>>(new Map());
export const values = signal<Record<string, Value>>({});
export const diagnostics = signal<Diagnostic[]>([]);
export const running = signal(false);
export const progress = signal<Progress | null>(null);
export const ended = signal(''); // why the last run ended early
export const failure = signal(''); // why the recipe could not be opened

export const plannedSteps = computed<PlanStep[]>(() => plan.value?.steps ?? []);
/** The player whom the recipe's settings choose. */
export const chosenPlayer = computed<string>(() => {
  const setting = plan.value?.settings?.find((s) => s.name === 'Player');
  return setting ? String(values.value['Player'] ?? setting.default ?? '') : '';
});
export const problems = computed<Diagnostic[]>(() => [
  ...diagnostics.value,
  ...[...steps.value.values()].flatMap((s): Diagnostic[] =>
    s.error?.line && s.state === 'failed'
      ? [{ severity: 'error', line: s.error.line, column: s.error.column ?? 1, message: s.error.message, step: s.name }]
      : [],
  ),
]);

const byName = (list: Step[] | null | undefined): Map<string, Step> => new Map((list ?? []).map((s) => [s.name, s]));

function take(d: Desk): void {
  batch(() => {
    recipe.value = d.recipe;
    text.value = { source: d.source, revision: d.revision, saved: d.saved ?? '' };
    unread.value = d.unread ? { imports: d.imports, by: d.by } : null;
    plan.value = d.plan.title || d.plan.steps ? d.plan : null;
    steps.value = byName(d.steps);
    values.value = d.values ?? {};
    diagnostics.value = d.diagnostics ?? [];
    running.value = d.running;
    progress.value = d.progress ?? null;
    ended.value = d.error ?? '';
    failure.value = '';
  });
}

/** Show a recipe; it runs if it never ran. */
export async function open(name: string): Promise<void> {
  try {
    take(await link.ask<Desk>('open', { recipe: name }));
  } catch (e) {
    failure.value = (e as Error).message;
  }
}

export function listen(): void {
  const mine = (r: string) => r === recipe.peek();
  link.on('desk', (d, r) => mine(r) && take(d));
  link.on('values', (v, r) => {
    if (mine(r) && !sending) values.value = v ?? {};
  });
  link.on('running', (on, r) => {
    if (!mine(r)) return;
    batch(() => {
      running.value = on;
      ended.value = '';
      progress.value = null;
      steps.value = new Map([...steps.value].map(([n, s]) => [n, s.results?.length ? { ...s, old: true } : s]));
    });
  });
  link.on('plan', (p, r) => {
    if (!mine(r)) return;
    batch(() => {
      plan.value = p.plan;
      steps.value = byName(p.steps);
    });
  });
  link.on('diagnostics', (list, r) => {
    if (mine(r)) diagnostics.value = list ?? [];
  });
  link.on('step', (s, r) => {
    if (mine(r)) steps.value = new Map(steps.value).set(s.name, s);
  });
  link.on('progress', (p, r) => {
    if (mine(r)) progress.value = p;
  });
  link.on('ended', (e, r) => {
    if (!mine(r)) return;
    batch(() => {
      running.value = false;
      progress.value = null;
      ended.value = e.error ?? '';
      steps.value = byName(e.steps);
    });
  });
}

let waiting: Record<string, Value> = {};
let sending = false;

/** Change a setting. The control follows at once; the server hears the newest value as fast as it answers. */
export function set(name: string, value: Value): void {
  const next = { ...values.peek() };
  if (value === null) delete next[name];
  else next[name] = value;
  values.value = next;
  waiting[name] = value;
  void send();
}

async function send(): Promise<void> {
  if (sending) return;
  sending = true;
  try {
    while (Object.keys(waiting).length > 0) {
      const changes = waiting;
      waiting = {};
      await link.ask('values', { recipe: recipe.peek(), values: changes });
    }
  } catch (e) {
    ended.value = (e as Error).message;
  } finally {
    sending = false;
  }
}

export const run = (): Promise<unknown> => link.ask('run', { recipe: recipe.peek() });
export const stop = (): Promise<unknown> => link.ask('stop', { recipe: recipe.peek() });
export const allow = (): Promise<unknown> =>
  link.ask('allow', { recipe: recipe.peek(), revision: text.peek().revision });

/** The step whose lines hold a line of the source. */
export function stepAt(line: number): string {
  return plannedSteps.peek().find((s) => s.first <= line && line <= s.last)?.name ?? '';
}

/** The recipe that the address names, or the first of the shelf. */
export const wanted = computed(() => address.value.recipe);
