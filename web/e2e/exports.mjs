// What leaves a season is read by libraries that are not ours: apache-arrow's reader in JavaScript, and hyparquet.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { describe, it } from 'node:test';
import { tableFromIPC } from 'apache-arrow';
import { asyncBufferFromFile, parquetMetadataAsync, parquetReadObjects } from 'hyparquet';
import { run } from './program.mjs';
import { demo, folder } from './stage.mjs';

const tables = ['serves', 'events', 'measures'];

/** Values as both libraries can be compared: numbers as numbers, what is missing as null. */
const plain = (v) => (v === undefined || v === null ? null : typeof v === 'bigint' ? Number(v) : v);

describe('exported tables', () => {
  for (const name of tables)
    it(`${name} are the same to a reader of Parquet, of Arrow and of CSV`, async () => {
      const dir = await demo();
      const file = (format) => {
        const path = `${folder}/${name}.${format}`;
        run('export', '--season', dir, '--table', name, '-o', path);
        return path;
      };
      const arrow = tableFromIPC(readFileSync(file('arrow')));
      const parquet = await asyncBufferFromFile(file('parquet'));
      const rows = await parquetReadObjects({ file: parquet });
      const titles = arrow.schema.fields.map((f) => f.name);
      assert.ok(arrow.numRows > 900);
      assert.equal(rows.length, arrow.numRows);
      assert.deepEqual(Object.keys(rows[0]), titles);
      for (const title of titles) {
        const column = arrow.getChild(title);
        for (let i = 0; i < arrow.numRows; i++)
          assert.equal(plain(rows[i][title]), plain(column.get(i)), `${title} of row ${i}`);
      }
      const [head, first] = readFileSync(file('csv'), 'utf8').split('\n', 2);
      assert.deepEqual(head.split(',').map((t) => t.replaceAll('"', '')), titles);
      assert.equal(first.split(',')[0].replaceAll('"', ''), rows[0][titles[0]]);

      const described = arrow.schema.fields.find((f) => f.metadata.get('unit'));
      assert.ok(described.metadata.get('title'), 'units and titles are in the metadata');
      const { key_value_metadata: about } = await parquetMetadataAsync(parquet);
      assert.ok(about.some((m) => m.key === 'tossline.table' && m.value === name), 'what it is of is in the metadata');
    });
});
