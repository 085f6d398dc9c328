// The page: rail, recipe, and at the side the source or a serve.
import { useEffect } from 'preact/hooks';
import { address, go } from './address';
import { PlayerSheet } from './changes/player';
import { Removal } from './changes/removal';
import { SeasonSheet } from './changes/season';
import { Drop } from './intake/drop';
import { Preview } from './intake/preview';
import { connection } from './link';
import { live } from './live';
import { Rail } from './rail';
import { Recipe } from './recipe';
import { Around } from './results';
import { Said } from './say';
import { TableSheet } from './tables';
import { Serve } from './serve/serve';
import { Source } from './source/panel';

export function App() {
  useEffect(() => {
    const key = (e: KeyboardEvent) => {
      if (e.key !== 'Escape' || e.defaultPrevented || document.querySelector('dialog[open]')) return;
      const a = address.peek();
      if (a.serve) go({ serve: '', beside: '' });
    };
    addEventListener('keydown', key);
    return () => removeEventListener('keydown', key);
  }, []);
  if (connection.value === 'shut') return <Shut />;
  const a = address.value;
  const side = a.source ? 'source' : a.serve ? 'serve' : '';
  return (
    <Around.Provider value={live}>
      <a class="skip" href="#recipe">
        To the recipe
      </a>
      <div class={`page ${side ? 'with-side' : ''}`}>
        <Rail />
        <Recipe />
        {side === 'source' && <Source key={a.recipe} />}
        {side === 'serve' && <Serve />}
      </div>
      <Drop />
      <Preview />
      <PlayerSheet />
      <SeasonSheet />
      <Removal />
      <TableSheet />
      <Said />
      {connection.value === 'lost' && (
        <p class="lost" role="alert">
          Tossline does not answer. Is it still running? Trying again.
        </p>
      )}
    </Around.Provider>
  );
}

function Shut() {
  return (
    <main class="shut">
      <h1>This door opens with a fresh address</h1>
      <p>
        Tossline prints an address when it starts, and each address lets one browser in, once. Start Tossline again, or
        open the address it printed last.
      </p>
    </main>
  );
}
