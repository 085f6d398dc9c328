// Tables that came from elsewhere and that the season keeps: listed in the rail, looked at on a sheet.
import { signal } from '@preact/signals';
import { useAnswer } from './answer';
import { change } from './changes/edit';
import { moment } from './changes/history';
import { link } from './link';
import { Sheet } from './parts/sheet';
import type { Edit, KeptTable, TableRef } from './protocol';
import { ResultView } from './results';
import { say } from './say';
import { season } from './season';

/** The table that is looked at. */
const looked = signal('');

export function Tables() {
  const all = season.value?.tables ?? [];
  if (all.length === 0) return null;
  return (
    <>
      <h2>Tables</h2>
      <ul class="roster">
        {all.map((t) => (
          <li key={t.name}>
            <button
              type="button"
              class="entry group"
              title={t.name}
              aria-haspopup="dialog"
              onClick={() => {
                looked.value = t.name;
              }}
            >
              <span class="who">
                <b>{t.name}</b>
              </span>
              <span class="count">
                <span class="unseen">, rows: </span>
                {t.rows.toLocaleString('en')}
              </span>
            </button>
          </li>
        ))}
      </ul>
    </>
  );
}

export function TableSheet() {
  const table = season.value?.tables?.find((t) => t.name === looked.value);
  return table ? <Look key={table.at} table={table} /> : null;
}

function Look({ table }: { table: KeptTable }) {
  const { answer, error } = useAnswer(() => link.ask<TableRef>('table', { name: table.name }), table.name + table.at);
  const close = () => {
    looked.value = '';
  };
  const takeOut = async () => {
    const edit: Edit = { target: 'table', subject: table.name, field: 'content', value: '' };
    if (!(await change('change', { edits: [edit] }))) return;
    close();
    say(`The table ${table.name} is out. Changes and files can put it back.`);
  };
  return (
    <Sheet
      title={table.name}
      close={close}
      acts={
        <>
          <button type="button" class="act" onClick={() => void takeOut()}>
            Take it out
          </button>
          <button type="button" class="act" onClick={close}>
            Close
          </button>
        </>
      }
    >
      <p class="quietly">
        From {table.file}, kept on {moment(table.at)}. Recipes read it with season.Table({JSON.stringify(table.name)}).
      </p>
      {error && <p class="trouble">{error}</p>}
      {answer && <ResultView result={{ kind: 'table', table: answer }} name={table.name} />}
    </Sheet>
  );
}
