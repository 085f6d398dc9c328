// Every recipe that comes with the program: it runs, draws, and says nothing that only a program would say.
import assert from 'node:assert/strict';
import { before, describe, it } from 'node:test';
import { openRecipe, painted, settled } from './reader.mjs';
import { visit } from './stage.mjs';

/** What a reader of the page is told, by sight and by ear, where it holds a value that is none. */
const slips = (page) =>
  page.evaluate(() => {
    const slip = /\b(NaN|undefined|null|Infinity)\b|\[object /;
    const found = document.body.innerText.split('\n').filter((line) => slip.test(line));
    for (const e of document.querySelectorAll('[aria-label], [title], [aria-valuetext], [placeholder], option, input'))
      for (const text of [...e.attributes].map((a) => a.value).concat(e.value ?? '', e.textContent ?? ''))
        if (slip.test(text)) found.push(`${e.tagName}: ${text}`);
    for (const path of document.querySelectorAll('svg *'))
      for (const a of path.attributes) if (slip.test(a.value)) found.push(`${path.tagName} ${a.name}: ${a.value}`);
    return found;
  });

const titles = [
  'Contact offset',
  'Knee flex',
  'Drop depth',
  'The season at a glance',
  'Player beside a reference',
  'Did it change?',
  'Test a hunch',
  'Trophy position',
  'The way to contact',
  'Jump, drift and landing',
  'Toss consistency',
  'Data quality',
  'Load',
];

describe('the shelf', () => {
  let page, faults;
  before(async () => {
    ({ page, faults } = await visit());
  });
  it('holds the recipes that come with the program', async () => {
    const shown = page.locator('.shelf .entry b');
    await shown.first().waitFor();
    assert.deepEqual(await shown.allInnerTexts(), titles);
  });
  for (const title of titles)
    it(`has ${title}, which gives results and no slips`, async () => {
      await openRecipe(page, title);
      await settled(page, title);
      await painted(page);
      assert.equal(await page.locator('.step:not([data-state=done])').count(), 0);
      assert.deepEqual(await slips(page), []);
    });
  it('broke no rule of the page', () => assert.deepEqual(faults, []));
});
