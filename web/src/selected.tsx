// What is selected: a strip at the foot of the recipe, with what can be done with it.
import { useEffect, useId, useRef, useState } from 'preact/hooks';
import { address, go } from './address';
import { groupOf, groups, keep } from './groups';
import { say } from './say';
import { clear, selected } from './selection';
import { count } from './words';

export function Selected() {
  const [naming, setNaming] = useState(false);
  const ids = [...selected.value],
    n = ids.length,
    group = groupOf(selected.value, groups.value);
  const { serve, beside } = address.value;
  const looked = n < 2 || (n === 2 && selected.value.has(serve) && selected.value.has(beside));
  if (looked && !group) return null;
  const show = (first = '', second = '') => go({ serve: first, beside: second, source: false });
  return (
    <div class="selected">
      <span class="what" role="status">
        {group ? `${group.name}: ` : ''}
        {count(n, 'serve')} selected
      </span>
      {naming && !group ? (
        <Naming serves={ids} end={() => setNaming(false)} />
      ) : (
        <>
          <button type="button" class="link" onClick={() => show(ids[0])}>
            Open the first
          </button>
          {n > 1 && (
            <button type="button" class="link" onClick={() => show(ids[0], ids[1])}>
              Open the first two
            </button>
          )}
          {!group && (
            <button type="button" class="link" onClick={() => setNaming(true)}>
              Keep as a group
            </button>
          )}
          <button type="button" class="link" onClick={clear}>
            Let go
          </button>
        </>
      )}
    </div>
  );
}

function Naming({ serves, end }: { serves: string[]; end: () => void }) {
  const [name, setName] = useState('');
  const box = useRef<HTMLInputElement>(null);
  const id = useId();
  useEffect(() => box.current?.focus(), []);
  const taken = groups.value.some((g) => g.name === name.trim());
  return (
    <form
      class="naming"
      onSubmit={(e) => {
        e.preventDefault();
        keep(name.trim(), serves).then(end, (why: Error) => say(why.message));
      }}
      onKeyDown={(e) => {
        if (e.key !== 'Escape') return;
        e.preventDefault();
        end();
      }}
    >
      <label for={id}>Name of the group</label>
      <input id={id} ref={box} required value={name} onInput={(e) => setName(e.currentTarget.value)} />
      <button type="submit" class="act">
        {taken ? 'Put in its place' : 'Keep'}
      </button>
      <button type="button" class="link" onClick={end}>
        Don’t keep
      </button>
    </form>
  );
}
