// Takes to drop: one written as a table, made into other forms, and joined to longer ones.
import { readFileSync, readdirSync } from 'node:fs';
import { gzipSync } from 'node:zlib';
import { run } from './program.mjs';

/** One serve of 147 frames at 50 Hz, in millimetres. */
export const take = readFileSync(new URL('take.csv', import.meta.url), 'utf8');

const [names, ...lines] = take.trim().split(/\r?\n/);
const rows = lines.map((line) => line.split(','));

/** The take so many times, one after the other. */
export function repeated(times) {
  const step = Number(rows.at(-1)[0]) + 0.02;
  const all = Array.from({ length: times }, (_, k) =>
    rows.map(([t, ...values]) => [(Number(t) + k * step).toFixed(3), ...values].join(',')),
  );
  return [names, ...all.flat(), ''].join('\n');
}

/**
 * The take as motion: a skeleton whose joints all hang from its root, each with its own place in every frame. The ball
 * is left out: it is not seen in every frame.
 */
export function asBVH() {
  const columns = names.split(',').slice(1);
  const landmarks = [...new Set(columns.map((n) => n.replace(/_[xyz]_mm$/, '')))].filter((n) => n !== 'ball');
  const joints = landmarks.map(
    (name) =>
      `\tJOINT ${name}\n\t{\n\t\tOFFSET 0 0 0\n\t\tCHANNELS 3 Xposition Yposition Zposition\n` +
      '\t\tEnd Site\n\t\t{\n\t\t\tOFFSET 0 0 0\n\t\t}\n\t}\n',
  );
  const at = landmarks.flatMap((name) => ['x', 'y', 'z'].map((axis) => columns.indexOf(`${name}_${axis}_mm`) + 1));
  const frames = rows.map((row) => `0 0 0 ${at.map((i) => Number(row[i]) / 10).join(' ')}`);
  return [
    'HIERARCHY\nROOT floor\n{\n\tOFFSET 0 0 0\n\tCHANNELS 3 Xposition Yposition Zposition',
    `${joints.join('')}}`,
    `MOTION\nFrames: ${frames.length}\nFrame Time: 0.02`,
    ...frames,
    '',
  ].join('\n');
}

/** The recordings of a season as C3D files, written by the program. */
export function asC3D(season, to) {
  run('export', '--season', season, '--table', 'frames', '--format', 'c3d', '-o', to);
  return readdirSync(to).map((name) => [name, readFileSync(`${to}/${name}`)]);
}

/** A small packed file of a table without times that takes long to read: nobody waits for its end. */
export function endless() {
  const untimed = (line) => line.slice(line.indexOf(',') + 1);
  const part = gzipSync(`${lines.slice(0, 30).map(untimed).join('\n')}\n`.repeat(2000));
  return Buffer.concat([gzipSync(`${untimed(names)}\n`), ...Array.from({ length: 40 }, () => part)]);
}
