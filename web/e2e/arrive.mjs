// Coming in: the first page, and who is not let in.
import assert from 'node:assert/strict';
import { after, before, describe, it } from 'node:test';
import { launch, newPage } from './browser.mjs';
import { open, run, scratch } from './program.mjs';

describe('the demo season', () => {
  let browser, program, visit;
  before(async () => {
    const dir = `${scratch()}/demo`;
    run('demo', dir);
    [program, browser] = await Promise.all([open(dir), launch()]);
    visit = await newPage(browser, program.origin);
    await visit.page.goto(program.address);
  });
  after(async () => {
    await browser?.close();
    await program?.stop();
  });

  it('shows its roster and its shelf', async () => {
    await visit.page.locator('.roster .entry').first().waitFor();
    assert.ok((await visit.page.locator('.roster .entry').count()) >= 8);
    assert.ok((await visit.page.locator('.shelf .entry').count()) >= 3);
  });
  it('leaves no code in the address', () => assert.ok(!visit.page.url().includes('code')));
  it('asks nobody else for anything, and breaks no rule of its own', () => assert.deepEqual(visit.faults, []));
});
