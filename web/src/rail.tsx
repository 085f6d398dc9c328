// The rail: the season, who is in it, and the recipes on the shelf.
import { address, go } from './address';
import { useAnswer } from './answer';
import { asked } from './changes/player';
import { open as opened } from './changes/season';
import { plan, recipe, set, values } from './desk';
import { forget, groupOf, groups } from './groups';
import { link } from './link';
import { Sparkline } from './parts/sparkline';
import type { Group, Listing, Player, ShelfEntry } from './protocol';
import { browse } from './intake/drop';
import { say } from './say';
import { engine, season, shelf } from './season';
import { Tables } from './tables';
import { clear, pick, select, selected, toggleAll } from './selection';
import { thumbnails } from './thumbnails';
import { count, day } from './words';

export function Rail() {
  const s = season.value;
  if (!s) return <nav class="rail" aria-label="Season" />;
  return (
    <nav class="rail" aria-label="Season">
      <h1>{s.name}</h1>
      <p class="about">
        {s.players.length === 0 ? 'No serves yet' : `${count(s.serves, 'serve')}, ${count(s.players.length, 'player')}`}
        {s.from && (
          <>
            <br />
            {day(s.from, s.to?.slice(0, 4))} to {day(s.to ?? s.from)}
          </>
        )}
      </p>
      {s.demo && <p class="about">A season made up for trying things out.</p>}
      {s.players.length > 0 && <Roster players={s.players} />}
      <Groups />
      <Tables />
      <h2>Shelf</h2>
      <ul class="shelf">
        {shelf.value.map((e) => (
          <li key={e.recipe}>
            <Entry entry={e} />
          </li>
        ))}
      </ul>
      <div class="bring">
        <button type="button" class="link" onClick={() => browse()}>
          Add recordings or a recipe
        </button>
        <span class="quietly">or drop them anywhere on this page</span>
      </div>
      <div class="foot">
        <button
          type="button"
          class="link"
          aria-haspopup="dialog"
          onClick={() => {
            opened.value = true;
          }}
        >
          Changes and files
        </button>
        <Engine />
        {s.read_only && <p>{s.read_only}</p>}
      </div>
    </nav>
  );
}

function Engine() {
  const e = engine.value;
  const words = { starting: 'The engine is starting', ready: 'The engine is ready', ended: 'The engine ended' }[
    e.state
  ];
  return (
    <p class={`engine-line ${e.state}`} role="status" title={e.fence ?? ''}>
      {e.message || words}
    </p>
  );
}

function Roster({ players }: { players: Player[] }) {
  const measures = season.value?.measures ?? [];
  const known = measures.filter((m) => players.some((p) => p.sessions.some((s) => s.means?.[m.value] !== undefined)));
  const measure = known.find((m) => m.value === address.value.measure) ?? known[0];
  const range = measure ? rangeOf(players, measure.value) : undefined;
  return (
    <>
      <h2>
        <span>Roster</span>
        {measure && (
          <select
            aria-label="Measure of the sparklines"
            value={measure.value}
            onChange={(e) => go({ measure: e.currentTarget.value })}
          >
            {known.map((m) => (
              <option key={m.value} value={m.value}>
                {m.title}
              </option>
            ))}
          </select>
        )}
      </h2>
      <ul class="roster">
        {players.map((p) => (
          <li key={p.name}>
            <Line player={p} measure={measure?.value} range={range} />
          </li>
        ))}
      </ul>
    </>
  );
}

function rangeOf(players: Player[], measure: string): [number, number] | undefined {
  const all = players.flatMap((p) =>
    p.sessions.map((s) => s.means?.[measure]).filter((v): v is number => v !== undefined),
  );
  return all.length > 1 ? [Math.min(...all), Math.max(...all)] : undefined;
}

/** The setting that chooses a player, where the recipe has one. */
function playerSetting(name: string) {
  return plan.value?.settings?.find((s) => s.kind === 'choice' && s.choices?.some((c) => c.value === name));
}

function Line({
  player,
  measure,
  range,
}: {
  player: Player;
  measure: string | undefined;
  range: [number, number] | undefined;
}) {
  const open = address.value.player === player.name;
  const setting = playerSetting(player.name);
  const chosen = setting ? (values.value[setting.name] ?? setting.default) === player.name : open;
  const choose = () => {
    go({ player: open ? '' : player.name });
    if (!open && setting) set(setting.name, player.name);
  };
  const about = [age(player), player.hand === 'left' ? 'left' : ''].filter(Boolean).join(' · ') || player.level;
  return (
    <>
      <button type="button" class={`entry ${chosen ? 'chosen' : ''}`} aria-expanded={open} onClick={choose}>
        <span class="who" title={player.name}>
          <b>{player.name}</b>
          <small>{about || '\u00a0'}</small>
        </span>
        {measure && range ? (
          <Sparkline values={player.sessions.map((s) => s.means?.[measure] ?? null)} range={range} />
        ) : (
          <span />
        )}
        <span class="count">
          <span class="unseen">, serves: </span>
          {player.serves}
        </span>
      </button>
      {open && (
        <ul class="sessions">
          {player.sessions.map((s) => (
            <li key={s.date}>
              <button type="button" disabled={!s.first} onClick={(e) => s.first && pick(s.first, e)}>
                <span>{day(s.date, season.value?.to?.slice(0, 4))}</span>
                <span>{count(s.serves, 'serve')}</span>
              </button>
            </li>
          ))}
          <li>
            <AllServes player={player.name} />
          </li>
          <li>
            <button
              type="button"
              aria-haspopup="dialog"
              onClick={() => {
                asked.value = player.name;
              }}
            >
              <span>About this player</span>
            </button>
          </li>
        </ul>
      )}
    </>
  );
}

/** Takes all serves of a player into the selection, and out again: so that several players can be selected. */
function AllServes({ player }: { player: string }) {
  const { answer } = useAnswer(() => link.ask<Listing>('serves', { player }), player);
  const serves = (answer?.serves ?? []).filter((s) => !s.left_out).map((s) => s.serve);
  const all = serves.length > 0 && serves.every((s) => selected.value.has(s));
  return (
    <button
      type="button"
      class={all ? 'chosen' : ''}
      aria-pressed={all}
      disabled={serves.length === 0}
      onClick={() => toggleAll(serves)}
    >
      <span>Select all serves</span>
    </button>
  );
}

function Groups() {
  const all = groups.value;
  if (all.length === 0) return null;
  return (
    <>
      <h2>Groups</h2>
      <ul class="roster">
        {all.map((g) => (
          <li key={g.name}>
            <GroupLine group={g} />
          </li>
        ))}
      </ul>
    </>
  );
}

function GroupLine({ group }: { group: Group }) {
  const chosen = groupOf(selected.value, groups.value) === group;
  const drop = () =>
    forget(group.name).then(
      () => say(`The group ${group.name} is forgotten. Its serves are still selected.`),
      (e: Error) => say(e.message),
    );
  return (
    <>
      <button
        type="button"
        class={`entry group ${chosen ? 'chosen' : ''}`}
        title={group.name}
        aria-expanded={chosen}
        disabled={group.serves.length === 0}
        onClick={() => (chosen ? clear() : select(group.serves))}
      >
        <span class="who">
          <b>{group.name}</b>
        </span>
        <span class="count">
          <span class="unseen">, serves: </span>
          {group.serves.length}
        </span>
      </button>
      {(chosen || group.serves.length === 0) && (
        <ul class="sessions">
          <li>
            <button type="button" onClick={() => void drop()}>
              <span>Forget this group</span>
            </button>
          </li>
        </ul>
      )}
    </>
  );
}

function age(p: Player): string {
  const year = Number(season.value?.to?.slice(0, 4));
  return p.birth_year && year ? String(year - p.birth_year) : '';
}

function Entry({ entry }: { entry: ShelfEntry }) {
  const here = recipe.value === entry.recipe;
  const picture = thumbnails.value.get(entry.recipe);
  return (
    <button
      type="button"
      class={`entry ${here ? 'chosen' : ''}`}
      aria-current={here ? 'page' : undefined}
      onClick={() => go({ recipe: entry.recipe, step: '', serve: '', beside: '' })}
    >
      <span>
        <b>{entry.title}</b>
        <small>{entry.unread ? 'not allowed to run yet' : entry.line}</small>
      </span>
      {picture ? <img class="thumb" src={picture} alt="" /> : <span class="thumb" />}
    </button>
  );
}
