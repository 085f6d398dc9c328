// The strip of settings: one real control for each field of the recipe's Settings.
import { useId } from 'preact/hooks';
import { plan, set, values } from './desk';
import type { Setting, Value } from './protocol';
import { number, unit, withUnit } from './words';

export function Settings() {
  const list = plan.value?.settings ?? [];
  if (list.length === 0) return null;
  return (
    <form class="settings" aria-label="Settings" onSubmit={(e) => e.preventDefault()}>
      {list.map((s) => (
        <Control key={s.name} setting={s} />
      ))}
    </form>
  );
}

function Control({ setting }: { setting: Setting }) {
  const id = useId();
  const own = values.value[setting.name];
  const value = own ?? setting.default ?? null;
  const Kind = kinds[setting.kind] ?? Words;
  const changed = own !== undefined && JSON.stringify(own) !== JSON.stringify(setting.default);
  return (
    <div class="setting">
      <label for={id}>{setting.label}</label>
      <div class="control">
        <Kind id={id} setting={setting} value={value} change={(v) => set(setting.name, v)} />
      </div>
      {changed && hasDefault(setting) && (
        <button type="button" class="back" onClick={() => set(setting.name, null)}>
          Back to {shown(setting, setting.default ?? null)}
        </button>
      )}
    </div>
  );
}

const hasDefault = (s: Setting) => s.default !== undefined && s.default !== null && s.default !== '';

/** A value as the strip shows it. */
export function shown(s: Setting, value: Value): string {
  if (typeof value === 'number') return withUnit(number(value, places(s.step)), s.unit).replace(' ', '\u00a0');
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  if (Array.isArray(value)) return value.join(', ');
  return s.choices?.find((c) => c.value === value)?.title ?? String(value ?? '');
}

/** As many decimals as the step of a setting has. */
function places(step: number | undefined): number | undefined {
  if (!step) return undefined;
  return Math.min(6, (/\.(\d+)/.exec(step.toString())?.[1] ?? '').length);
}

interface ControlProps {
  id: string;
  setting: Setting;
  value: Value;
  change: (v: Value) => void;
}

function Range({ id, setting, value, change }: ControlProps) {
  const v = typeof value === 'number' ? value : (setting.min ?? 0);
  if (setting.min === undefined || setting.max === undefined) return <NumberBox {...{ id, setting, value, change }} />;
  const step = setting.step ?? (setting.kind === 'integer' ? 1 : (setting.max - setting.min) / 100);
  return (
    <>
      <input
        id={id}
        type="range"
        min={setting.min}
        max={setting.max}
        step={step}
        value={v}
        aria-valuetext={shown({ ...setting, step }, v)}
        onInput={(e) => change(e.currentTarget.valueAsNumber)}
      />
      <output for={id}>{shown({ ...setting, step }, v)}</output>
    </>
  );
}

function NumberBox({ id, setting, value, change }: ControlProps) {
  return (
    <>
      <input
        id={id}
        type="number"
        min={setting.min}
        max={setting.max}
        step={setting.step ?? (setting.kind === 'integer' ? 1 : 'any')}
        value={typeof value === 'number' ? value : ''}
        onChange={(e) => Number.isFinite(e.currentTarget.valueAsNumber) && change(e.currentTarget.valueAsNumber)}
      />
      {unit(setting.unit)}
    </>
  );
}

function Flag({ id, value, change }: ControlProps) {
  return (
    <>
      <input id={id} type="checkbox" checked={value === true} onChange={(e) => change(e.currentTarget.checked)} />
      {value === true ? 'yes' : 'no'}
    </>
  );
}

function Choose({ id, setting, value, change }: ControlProps) {
  const known = setting.choices?.some((c) => c.value === value);
  return (
    <select id={id} value={String(value ?? '')} onChange={(e) => change(e.currentTarget.value)}>
      {!known && <option value={String(value ?? '')}>{value ? String(value) : 'choose'}</option>}
      {setting.choices?.map((c) => (
        <option key={c.value} value={c.value}>
          {c.title}
        </option>
      ))}
    </select>
  );
}

function ChooseMany({ id, setting, value, change }: ControlProps) {
  const on = new Set(Array.isArray(value) ? value : []);
  const flip = (v: string) =>
    change((setting.choices ?? []).map((c) => c.value).filter((c) => on.has(c) !== (c === v)));
  return (
    <div id={id} class="many" role="group" aria-label={setting.label}>
      {setting.choices?.map((c) => (
        <label key={c.value}>
          <input type="checkbox" checked={on.has(c.value)} onChange={() => flip(c.value)} />
          {c.title}
        </label>
      ))}
    </div>
  );
}

function Day({ id, value, change }: ControlProps) {
  return <input id={id} type="date" value={String(value ?? '')} onChange={(e) => change(e.currentTarget.value)} />;
}

function Words({ id, value, change }: ControlProps) {
  return <input id={id} type="text" value={String(value ?? '')} onChange={(e) => change(e.currentTarget.value)} />;
}

const kinds: Record<Setting['kind'], (p: ControlProps) => preact.JSX.Element> = {
  number: Range,
  integer: Range,
  flag: Flag,
  choice: Choose,
  choices: ChooseMany,
  date: Day,
  text: Words,
};
