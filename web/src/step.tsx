// One step: heading, prose, result, and the quiet line that says how it came about.
import { computed } from '@preact/signals';
import type { ComponentChildren } from 'preact';
import { useMemo, useState } from 'preact/hooks';
import { address, go } from './address';
import { ended, progress, steps } from './desk';
import { counted, howMany, reasons } from './leftout';
import { Prose } from './prose';
import type { LeftOut, PlanStep, Result, Step as StepState } from './protocol';
import { hasLine, ResultView } from './results';
import { pick } from './selection';
import { count, left, took } from './words';

export function Step({ plan }: { plan: PlanStep }) {
  const state = useMemo(() => computed(() => steps.value.get(plan.name)), [plan.name]).value;
  const here = address.value.step === plan.name && address.value.source;
  return (
    <section
      class={`step ${here ? 'here' : ''}`}
      id={plan.name}
      aria-labelledby={`${plan.name}-title`}
      data-state={state?.state}
      data-old={state?.old ? '' : undefined}
    >
      <h2 id={`${plan.name}-title`}>
        <button type="button" title="Show its source" onClick={() => go({ step: plan.name, source: true })}>
          {plan.title}
        </button>
      </h2>
      <Prose text={plan.prose} />
      {state && <Outcome plan={plan} step={state} />}
    </section>
  );
}

function Outcome({ plan, step }: { plan: PlanStep; step: StepState }) {
  const results = step.results ?? [];
  const quiet = useQuiet(step, results);
  return (
    <>
      {step.error && (
        <div class="step-trouble" role="alert">
          <p>{step.error.message}</p>
          {step.error.line && (
            <button type="button" class="link" onClick={() => go({ step: plan.name, source: true })}>
              Line {step.error.line}
            </button>
          )}
        </div>
      )}
      {results.length > 0 ? (
        <div class={`results ${step.old ? 'old' : ''}`} aria-busy={step.state === 'running'}>
          {results.map((r, i) => (
            <ResultView
              key={i}
              result={r}
              name={plan.title}
              quiet={i === results.length - 1 ? quiet.line : undefined}
            />
          ))}
        </div>
      ) : (
        (step.state === 'running' || step.state === 'waiting') && (
          <p class="waiting">{step.state === 'running' ? 'At work …' : 'Waiting for the steps before it.'}</p>
        )
      )}
      {!hasLine(results[results.length - 1]) && quiet.line && <div class="quiet">{quiet.line}</div>}
      {quiet.list}
    </>
  );
}

/** How a result came about: the line under it, and the list that a part of the line opens. */
function useQuiet(step: StepState, results: Result[]): { line: ComponentChildren; list: ComponentChildren } {
  const [open, setOpen] = useState(false);
  const { serves, out } = counted(results);
  const p = progress.value;
  const parts: ComponentChildren[] = [];
  const last = results[results.length - 1];
  if (serves > 0 && serves !== last?.table?.rows) parts.push(<span>{count(serves, 'serve')}</span>);
  if (out.length > 0) parts.push(<LeftOutLine out={out} open={open} flip={() => setOpen(!open)} />);
  if (step.state === 'done' && !step.old) parts.push(<span>{step.kept ? 'unchanged' : took(step.took_ms)}</span>);
  if (step.state === 'running' && p?.step === step.name)
    parts.push(
      <span>
        {p.done.toLocaleString('en')} of {p.total.toLocaleString('en')}
        {p.left_s ? `, ${left(p.left_s)}` : ''}
      </span>,
    );
  if (step.old && results.length > 0) parts.push(<span class="stale">{staleWords(step)}</span>);
  if (step.state === 'skipped' && !step.old)
    parts.push(<span>{ended.value ? 'Not run to its end.' : 'Not run: a step before it gave no result.'}</span>);
  return { line: parts.length > 0 ? parts : null, list: open ? <LeftOutList out={out} /> : null };
}

function staleWords(step: StepState): string {
  if (step.state === 'running' || step.state === 'waiting') return 'Out of date; the new result is on its way.';
  return 'Out of date.';
}

function LeftOutLine({ out, open, flip }: { out: LeftOut[]; open: boolean; flip: () => void }) {
  return (
    <span>
      <button type="button" class="link" aria-expanded={open} onClick={flip}>
        {howMany(out)} left out
      </button>
      : {reasons(out)}
    </span>
  );
}

function LeftOutList({ out }: { out: LeftOut[] }) {
  return (
    <div class="left-out">
      {out.map((l) => (
        <div key={l.reason}>
          <h3>{l.reason}</h3>
          <ul>
            {(l.serves ?? []).slice(0, 400).map((s) => (
              <li key={s}>
                <button type="button" class="link" onClick={(e) => pick(s, e)}>
                  {s}
                </button>
              </li>
            ))}
          </ul>
        </div>
      ))}
    </div>
  );
}
