// The built program, started and stopped as its user would.
import { spawn, spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';

const binary = resolve(fileURLToPath(import.meta.url), '../../../bin/tossline');

/** A folder that is gone when the tests are. */
export function scratch() {
  const dir = mkdtempSync(join(tmpdir(), 'tossline-e2e-'));
  process.on('exit', () => rmSync(dir, { recursive: true, force: true }));
  return dir;
}

/** Run a command of the program to its end. */
export function run(...args) {
  if (!existsSync(binary)) throw new Error(`${binary} is not built: run make build`);
  const ended = spawnSync(binary, args, { encoding: 'utf8' });
  if (ended.status !== 0) throw new Error(`tossline ${args.join(' ')}: ${ended.stderr || ended.error}`);
  return ended.stdout;
}

/** Open a season. Gives the address that lets one browser in, and how to end the program. */
export async function open(dir, ...flags) {
  const child = spawn(binary, ['open', dir, '--no-browser', ...flags], { stdio: ['ignore', 'pipe', 'pipe'] });
  let said = '';
  for (const stream of [child.stdout, child.stderr])
    stream.setEncoding('utf8').on('data', (text) => {
      said += text;
    });
  const ended = new Promise((done) => child.once('exit', done));
  const end = async (signal) => {
    child.kill(signal);
    await ended;
  };
  process.on('exit', () => child.kill('SIGKILL'));
  for (const until = Date.now() + 30_000; Date.now() < until && child.exitCode === null;) {
    const address = /http:\/\/\S+/.exec(said)?.[0];
    if (address)
      return {
        address,
        origin: new URL(address).origin,
        pid: child.pid,
        said: () => said,
        stop: () => end('SIGTERM'),
        kill: () => end('SIGKILL'),
      };
    await new Promise((r) => setTimeout(r, 20));
  }
  await end('SIGKILL');
  throw new Error(`tossline open gave no address: ${said}`);
}
