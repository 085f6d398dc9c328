// What goes on for too long, and what ends too early.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { before, describe, it } from 'node:test';
import { newPage } from './browser.mjs';
import { open } from './program.mjs';
import { drop, openRecipe, settled } from './reader.mjs';
import { slow } from './recipes.mjs';
import { browser, demo, program, visit } from './stage.mjs';

/** The engine: the child of the program. */
function engineOf(pid) {
  return execFileSync('ps', ['-o', 'pid=', '--ppid', String(pid)], { encoding: 'utf8' })
    .trim()
    .split(/\s+/)
    .map(Number);
}

describe('a run that does not end', () => {
  let page, faults;
  before(async () => {
    ({ page, faults } = await visit());
    await drop(page, ['slow_count.go', slow]);
    await page.getByRole('button', { name: 'Allow it to run' }).click();
    await page.locator('#Counting[data-state=running]').waitFor();
  });

  it('can be stopped', async () => {
    await page.getByRole('button', { name: 'Stop' }).first().click();
    await page.locator('.head-tools').getByRole('button', { name: 'Run' }).waitFor();
    assert.equal(await page.locator('#Counting[data-state=running]').count(), 0);
  });
  it('does not keep another recipe from running', async () => {
    await page.locator('.head-tools').getByRole('button', { name: 'Run' }).click();
    await page.locator('#Counting[data-state=running]').waitFor();
    await openRecipe(page, 'Knee flex');
    await settled(page, 'Knee flex');
    await openRecipe(page, 'Slow count');
    await page.locator('#Counting').waitFor();
  });
  it('is said to have ended when its engine is killed, and the next run works', async () => {
    const run = page.locator('.head-tools').getByRole('button', { name: 'Run' });
    if (await run.isVisible()) await run.click();
    await page.locator('#Counting[data-state=running]').waitFor();
    for (const pid of engineOf((await program()).pid)) process.kill(pid, 'SIGKILL');
    await page.locator('.recipe .notice', { hasText: 'engine' }).waitFor();
    await page.locator('.engine-line.ready').waitFor();
    await openRecipe(page, 'Drop depth');
    await settled(page, 'Drop depth');
    assert.equal(await page.locator('.step:not([data-state=done])').count(), 0);
  });
  it('broke no rule of the page', () => assert.deepEqual(faults, []));
});

describe('a program that ends', () => {
  it('is missed by the page, and the page is well again when it is back', async () => {
    const dir = `${await demo()} copy`;
    execFileSync('cp', ['-r', await demo(), dir]);
    const first = await open(dir);
    const { page, faults } = await newPage(await browser(), first.origin);
    await page.goto(first.address);
    await settled(page);
    await first.kill();
    await page.getByText('Tossline does not answer').waitFor();
    const second = await open(dir, '--port', new URL(first.origin).port);
    await page.getByText('Tossline does not answer').waitFor({ state: 'detached' });
    if (await page.getByRole('heading', { name: 'This door opens with a fresh address' }).isVisible())
      await page.goto(second.address);
    await settled(page, 'Contact offset');
    assert.deepEqual(faults, []);
    await page.context().close();
    await second.stop();
  });
});
