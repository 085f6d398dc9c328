// A season with nothing in it yet: what to do first.
import { browse } from './intake/drop';
import { FootNote } from './recipe';
import { season, welcome } from './season';
import { list } from './words';

export function Empty() {
  const endings = (welcome.value?.formats ?? []).filter((f) => f !== '.gz');
  return (
    <main class="recipe" id="recipe" tabIndex={-1}>
      <header class="head">
        <h1>This season is empty</h1>
        <div class="prose">
          <p>
            Drop recordings anywhere on this page, or choose them. You see how each was understood, and can correct it,
            before anything is stored. Then the recipes on the shelf run over its serves.
          </p>
        </div>
        {!season.value?.read_only && (
          <p class="begin">
            <button type="button" class="act first" onClick={() => browse()}>
              Choose recordings
            </button>
          </p>
        )}
        <p class="quietly">
          Files ending in {list(endings)}, packed with gzip too. They are kept in {season.value?.folder}, on this
          machine. To look around first, start Tossline with no folder named: it then opens a season made up for that.
        </p>
      </header>
      <FootNote />
    </main>
  );
}
