// Working with a recipe: its settings, its source, its rows, and what it gives to take away.
import assert from 'node:assert/strict';
import { readFileSync, writeFileSync } from 'node:fs';
import { before, describe, it } from 'node:test';
import { pathToFileURL } from 'node:url';
import { axe } from './arrive.mjs';
import { newPage } from './browser.mjs';
import { accessible, drop, inked, openRecipe, painted, quiet, saved, settled, step, write } from './reader.mjs';
import { long, two } from './recipes.mjs';
import { browser, visit } from './stage.mjs';

/** The recipe file as the page saves it. */
async function sourceOf(page) {
  const { path } = await saved(page, async () => {
    await page.locator('.head-tools').getByRole('button', { name: 'Save' }).click();
    await page.getByRole('button', { name: 'Recipe file (Go)' }).click();
  });
  return readFileSync(path, 'utf8');
}

describe('a recipe at work', () => {
  let page, faults;
  before(async () => {
    ({ page, faults } = await visit());
    await openRecipe(page, 'Contact offset');
    await settled(page, 'Contact offset');
  });

  it('follows a setting, and runs only what depends on it', async () => {
    const picture = () =>
      step(page, 'Spread')
        .locator('canvas')
        .evaluate((c) => c.toDataURL());
    const before = await picture();
    await page.getByLabel('Mark serves met further outside than').fill('0.2');
    while ((await picture()) === before) await page.waitForTimeout(20);
    await settled(page);
    assert.equal(await page.locator('.setting output').innerText(), '0.20\u00a0m');
    assert.match(await quiet(page, 'Contacts'), /unchanged/);
    assert.doesNotMatch(await quiet(page, 'Spread'), /unchanged/);
  });
  it('keeps a setting over a reload, and goes back to its default', async () => {
    await page.reload();
    await settled(page, 'Contact offset');
    await page.getByRole('button', { name: 'Back to 0.10 m' }).click();
    await settled(page);
    assert.equal(await page.locator('.setting output').innerText(), '0.10\u00a0m');
  });
  it('takes the player from the roster', async () => {
    await page.locator('.roster .entry', { hasText: 'Tuva Brandt' }).click();
    await settled(page);
    assert.equal(await page.getByLabel('Player to look at').inputValue(), 'Tuva Brandt');
    await page.getByLabel('Compared with').selectOption('Jonas Petri');
    await step(page, 'Behind').locator('figcaption button', { hasText: 'Jonas Petri' }).waitFor();
    await step(page, 'Behind').locator('figcaption button', { hasText: 'Tuva Brandt' }).waitFor();
    await settled(page);
  });

  it('opens the source at a step, and marks it on both sides', async () => {
    await step(page, 'Spread').getByRole('button', { name: 'Where the ball is met' }).click();
    await page.locator('.cm-step-here').first().waitFor();
    assert.match(await page.locator('.cm-step-here').first().innerText(), /Where the ball is met/);
    assert.equal(await page.locator('.step.here').getAttribute('id'), 'Spread');
    await accessible(page, axe);
  });
  it('shows an error of an edit in the margin and on the page, and runs again when it is put right', async () => {
    const source = await sourceOf(page);
    await write(page, source.replace('"player").\n\t\tSides(', '"player").\n\t\tSidesss('));
    await page.locator('.problems li', { hasText: 'Sidesss' }).waitFor();
    await page.locator('.recipe .notice', { hasText: 'Sidesss' }).waitFor();
    await page.locator('.problems li button').first().click();
    assert.match(await page.locator('.cm-activeLine').innerText(), /Sidesss/);
    await page.locator('.cm-lint-marker-error').first().waitFor();
    await page.keyboard.press('Control+z');
    await page.locator('.problems').waitFor({ state: 'detached' });
    await settled(page);
    assert.equal(await page.locator('.recipe .notice').count(), 0);
  });
  it('runs what an edit changes', async () => {
    const source = await sourceOf(page);
    await write(
      page,
      source
        .replace('"outside the hitting shoulder"', '"outside"')
        .replace('// Where the ball is met', '// Where it is met'),
    );
    await step(page, 'Spread').getByRole('heading', { name: 'Where it is met' }).waitFor();
    await settled(page);
    assert.match(await quiet(page, 'Contacts'), /unchanged/);
    await page.keyboard.press('Control+z');
    await step(page, 'Spread').getByRole('heading', { name: 'Where the ball is met' }).waitFor();
    await settled(page);
  });
  it('completes what is typed, says how it is called, and brings an earlier text back', async () => {
    await page.locator('.cm-content').click();
    await page.keyboard.press('Control+End');
    await page.keyboard.insertText('\n// Draft\nfunc Draft(contacts table.Table) table.Table {\n\treturn contacts.');
    await page.keyboard.type('Ord');
    await page.locator('.cm-tooltip-autocomplete li', { hasText: 'OrderBy' }).waitFor();
    await page.waitForTimeout(150); // a list that has only just opened takes no Enter
    await page.keyboard.press('Enter');
    await page.keyboard.insertText('(');
    await page.locator('.cm-said', { hasText: 'OrderBy(columns ...string)' }).waitFor();
    await page.keyboard.insertText('"player"'); // the bracket was closed by itself
    await page.keyboard.press('End');
    await page.keyboard.insertText('\n}\n');
    await step(page, 'Draft').waitFor();
    await settled(page);
    await page.getByRole('button', { name: 'Earlier' }).click();
    await page.locator('.menu-list button').nth(1).click();
    await step(page, 'Draft').waitFor({ state: 'detached' });
    await settled(page);
    await page.getByRole('button', { name: 'Close the source' }).click();
  });

  it('is read and opened by keyboard', async () => {
    const chart = step(page, 'Spread').locator('.chart');
    await chart.focus();
    for (const key of ['ArrowDown', 'ArrowRight', 'ArrowRight', 'Enter']) await page.keyboard.press(key);
    await page.locator('.serve canvas').waitFor();
    await page.keyboard.press('Escape');
    await page.locator('.serve').waitFor({ state: 'detached' });
  });
  it('gives its numbers, its picture, its file and itself', async () => {
    const menu = (place, item) => async () => {
      await place.getByRole('button', { name: 'Save' }).click();
      await page.getByRole('button', { name: item }).click();
    };
    const csv = await saved(page, menu(step(page, 'Spread'), 'Numbers as CSV'));
    assert.match(readFileSync(csv.path, 'utf8'), /contact_offset_m.*\n.*(\d+\.\d+)/);
    const png = await saved(page, menu(step(page, 'Spread'), 'Picture (PNG)'));
    assert.equal(readFileSync(png.path).subarray(1, 4).toString(), 'PNG');
    assert.match(await sourceOf(page), /^\/\/ Contact offset\n/);
  });
  it('gives a report about the chosen player', async () => {
    const report = await saved(page, async () => {
      await page.locator('.head-tools').getByRole('button', { name: 'Save' }).click();
      await page.getByRole('button', { name: 'Report of Tuva Brandt (HTML)' }).click();
    });
    assert.equal(report.name, 'tuva-brandt-contact-offset.html');
    assert.match(readFileSync(report.path, 'utf8'), /Tuva Brandt/);
  });
  it('is one file that needs no network', async () => {
    const html = await saved(page, async () => {
      await page.locator('.head-tools').getByRole('button', { name: 'Save' }).click();
      await page.getByRole('button', { name: 'Document (HTML)' }).click();
    });
    const file = `${html.path}.html`;
    writeFileSync(file, readFileSync(html.path));
    const alone = await newPage(await browser(), 'file://', { offline: true });
    await alone.page.goto(pathToFileURL(file).href);
    await alone.page.locator('.chart canvas').first().waitFor();
    await painted(alone.page);
    for (const canvas of await alone.page.locator('.chart canvas, .figure canvas').all())
      assert.ok(await inked(canvas), 'a canvas is empty');
    assert.ok((await alone.page.locator('.grid tbody tr').count()) > 5);
    await accessible(alone.page, axe);
    assert.deepEqual(alone.faults, []);
    await alone.context.close();
  });

  it('is read before it is allowed, when it comes from elsewhere', async () => {
    await drop(page, ['two_limits.go', two]);
    await page.getByRole('heading', { name: 'Read it before it runs' }).waitFor();
    assert.match(await page.locator('.unread pre').innerText(), /First limit/);
    await accessible(page, axe);
    await page.getByRole('button', { name: 'Not now' }).click();
    await settled(page, 'Contact offset');
    await openRecipe(page, 'Two limits');
    await page.getByRole('button', { name: 'Allow it to run' }).click();
    await settled(page, 'Two limits');
    assert.equal(await step(page, 'Both').locator('.results').innerText(), 'first is 3, second is 5');
  });
  it('runs nothing that does not read the changed setting', async () => {
    await page.getByLabel('Second limit').fill('7');
    await step(page, 'Both').getByText('first is 3, second is 7').waitFor();
    await settled(page);
    assert.match(await quiet(page, 'First'), /unchanged/);
    assert.doesNotMatch(await quiet(page, 'Second'), /unchanged/);
  });
  it('scrolls a hundred thousand rows', async () => {
    await drop(page, ['long_table.go', long]);
    await page.getByRole('button', { name: 'Allow it to run' }).click();
    await settled(page, 'Long table');
    const grid = page.locator('.grid');
    await grid.focus();
    await page.keyboard.press('End');
    await grid.locator('td', { hasText: /^99,999$/ }).waitFor();
    await grid.evaluate((e) => {
      e.scrollTop = e.scrollHeight / 2;
    });
    await grid
      .locator('td', { hasText: /^50,00\d$/ })
      .first()
      .waitFor();
    assert.ok((await grid.locator('tbody tr').count()) < 80);
    await grid.getByRole('button', { name: 'number' }).click();
    await grid.getByRole('button', { name: 'number' }).click();
    await grid.locator('tbody tr:first-child td', { hasText: /^99,999$/ }).waitFor();
  });
  it('broke no rule of its own', () => assert.deepEqual(faults, []));
});
