// Coming in: the first page, and who is not let in.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { before, describe, it } from 'node:test';
import { newPage } from './browser.mjs';
import { accessible, inked, painted, settled } from './reader.mjs';
import { browser, program, visit } from './stage.mjs';

export const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

describe('the first visit', () => {
  let page, faults;
  before(async () => ({ page, faults } = await visit()));

  it('shows a season with its roster and its shelf', async () => {
    await page.locator('.roster .entry').first().waitFor();
    assert.equal(await page.locator('.rail h1').innerText(), 'Harbour Lane');
    assert.ok((await page.locator('.roster .entry').count()) >= 8);
    assert.ok((await page.locator('.shelf .entry').count()) >= 3);
  });
  it('shows a finished recipe with drawn charts, a figure and tables', async () => {
    await settled(page, 'Contact offset');
    await painted(page);
    assert.deepEqual(await page.locator('.step:not([data-state=done])').count(), 0);
    for (const canvas of await page.locator('.chart canvas, .figure canvas').all())
      assert.ok(await inked(canvas), 'a canvas is empty');
    assert.ok((await page.locator('.grid tbody tr td').count()) > 20);
  });
  it('rests once all is drawn', async () => {
    const drawn = () => page.locator('.chart .drawn').evaluateAll((all) => all.map((c) => c.dataset.painted));
    const before = await drawn();
    await page.waitForTimeout(700);
    assert.deepEqual(await drawn(), before);
  });
  it('draws the picture of the recipe on the shelf', () => page.locator('.shelf .entry.chosen img.thumb').waitFor());
  it('leaves no code in the address', () => assert.doesNotMatch(page.url(), /code/));
  it('keeps to WCAG, in the light and in the dark', async () => {
    await accessible(page, axe);
    await page.emulateMedia({ colorScheme: 'dark' });
    await accessible(page, axe);
    await page.emulateMedia({ colorScheme: 'light' });
  });
  it('is the same after a reload, and in a second tab', async () => {
    await page.reload();
    await settled(page, 'Contact offset');
    const tab = await page.context().newPage();
    await tab.goto(page.url());
    await settled(tab, 'Contact offset');
    await tab.close();
  });
  it('asks nobody else for anything, and breaks no rule of its own', () => assert.deepEqual(faults, []));
});

describe('a stranger on the same machine', () => {
  let stranger;
  before(async () => {
    const p = await program();
    stranger = await newPage(await browser(), p.origin);
  });
  it('is not let in without an address of their own', async () => {
    const { page } = stranger,
      p = await program();
    await page.goto(p.origin);
    await page.getByRole('heading', { name: 'This door opens with a fresh address' }).waitFor();
    await accessible(page, axe);
  });
  it('is not let in by an address that was used before', async () => {
    const { page, context } = stranger,
      p = await program();
    await page.goto('about:blank');
    await page.goto(p.address);
    await page.getByRole('heading', { name: 'This door opens with a fresh address' }).waitFor();
    await context.close();
  });
});
