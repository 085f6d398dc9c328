// Single serves: opened, put beside each other, corrected; and new ones that are brought in.
import assert from 'node:assert/strict';
import { before, describe, it } from 'node:test';
import { axe } from './arrive.mjs';
import { accessible, drop, inked, openRecipe, settled, step } from './reader.mjs';
import { visit } from './stage.mjs';
import { take } from './takes.mjs';

describe('a serve', () => {
  let page, faults;
  before(async () => {
    ({ page, faults } = await visit());
    await openRecipe(page, 'Contact offset');
    await settled(page, 'Contact offset');
  });

  it('opens from the roster, with its figure and its events', async () => {
    const player = page.locator('.roster li', { hasText: 'Noor Salim' });
    await player.locator('.entry').click();
    await player.locator('.sessions button').first().click();
    const canvas = page.locator('.serve canvas');
    await canvas.waitFor();
    await page.waitForFunction(() => document.querySelector('.serve canvas')?.width > 300);
    assert.ok(await inked(canvas));
    assert.match(await page.locator('.side-head h2').innerText(), /^Noor Salim, .* serve 1$/);
    assert.ok((await page.locator('.timebar .event').count()) >= 6);
    await settled(page);
    await accessible(page, axe);
  });
  it('plays, and turns by keyboard', async () => {
    const shown = page.locator('.play .quietly').last(),
      at = await shown.innerText();
    await page.getByRole('button', { name: 'Play', exact: true }).click();
    await page.waitForFunction(
      (before) => [...document.querySelectorAll('.play .quietly')].at(-1)?.textContent !== before,
      at,
    );
    await page.getByRole('button', { name: 'Pause' }).click();
    const canvas = page.locator('.serve canvas'),
      picture = () => canvas.evaluate((c) => c.toDataURL());
    const before = await picture();
    await canvas.focus();
    await page.keyboard.press('ArrowLeft');
    assert.notEqual(await picture(), before);
  });
  it('is corrected by hand, and the correction can be taken back', async () => {
    await page.getByRole('button', { name: /^contact, / }).focus();
    await page.keyboard.press('ArrowRight');
    await page
      .locator('.facts tr', { hasText: /^contact/ })
      .getByRole('button', { name: 'take back' })
      .click();
    await page.getByRole('button', { name: 'take back' }).waitFor({ state: 'detached' });
    await settled(page);
  });
  it('is put right, and each change can be taken back', async () => {
    const sheet = page.locator('.put-right'),
      history = sheet.locator('.history li');
    await sheet.locator('summary').click();
    await sheet.getByLabel('Outcome', { exact: true }).fill('long');
    await sheet.getByRole('button', { name: 'Keep', exact: true }).click();
    await history.filter({ hasText: 'outcome' }).first().waitFor();
    await sheet.getByLabel('Leave it out, because').fill('a practice swing');
    await sheet.getByRole('button', { name: 'Leave it out', exact: true }).click();
    await sheet.getByText('Left out: a practice swing.', { exact: true }).waitFor();
    await accessible(page, axe);
    await sheet.getByRole('button', { name: 'Take it in again' }).click();
    await sheet.getByLabel('Leave it out, because').waitFor();
    await settled(page);
  });
  it('can be made two, and the season be put back as it was', async () => {
    const before = page.url();
    await page.getByRole('slider', { name: 'Instant' }).focus();
    for (let i = 0; i < 3; i++) await page.keyboard.press('PageDown');
    await page.getByRole('button', { name: /^Make two serves of it/ }).click();
    await page.waitForURL((url) => url.href !== before);
    await page.getByRole('button', { name: 'Changes and files' }).click();
    const dialog = page.getByRole('dialog');
    await dialog.locator('.history li').first().getByRole('button', { name: 'Take back' }).click();
    await dialog.locator('.history li').first().getByRole('button', { name: 'Put back' }).waitFor();
    await dialog.getByRole('button', { name: 'Check every file' }).click();
    await dialog.getByText('Every file is whole: 91 recordings').waitFor();
    await accessible(page, axe, 'dialog');
    await page.keyboard.press('Escape');
    await dialog.waitFor({ state: 'detached' });
    await page.goto(before);
    await page.locator('.serve canvas').waitFor();
    await settled(page);
  });
  it('is of a player whose particulars can be put right', async () => {
    await page.getByRole('button', { name: 'About this player' }).click();
    const dialog = page.getByRole('dialog');
    await dialog.getByLabel('Level', { exact: true }).fill('academy');
    await dialog.getByRole('button', { name: 'Keep', exact: true }).click();
    await dialog.locator('.history li', { hasText: 'academy' }).first().waitFor();
    assert.ok((await dialog.locator('.recordings tbody tr').count()) > 5);
    await accessible(page, axe, 'dialog');
    await dialog.locator('.history li').first().getByRole('button', { name: 'Take back' }).click();
    await page.keyboard.press('Escape');
    await dialog.waitFor({ state: 'detached' });
    await settled(page);
  });
  it('stands beside another', async () => {
    await step(page, 'Contacts')
      .locator('.grid tr.tied')
      .nth(2)
      .click({ modifiers: ['Shift'] });
    await page.locator('.serve .names').waitFor();
    assert.equal(await page.locator('.serve .names b').count(), 2);
    assert.equal(await page.evaluate(() => String(getSelection())), '');
    await page.reload();
    await page.locator('.serve .names').waitFor();
    await page.getByRole('button', { name: 'Close the serve' }).click();
  });

  it('comes in by dropping a file, after a look at how it was understood', async () => {
    await drop(page, ['ida-practice.csv', take]);
    const dialog = page.getByRole('dialog');
    await dialog.getByText('1 serve found.', { exact: true }).waitFor();
    await accessible(page, axe, 'dialog');
    assert.ok(await dialog.getByRole('button', { name: 'Store in the season' }).isDisabled());
    await dialog.getByLabel('Player', { exact: true }).fill('Ida Falk');
    await dialog.getByLabel('Session', { exact: true }).fill('2026-09-20');
    await dialog.getByLabel('Session', { exact: true }).blur();
    await dialog.getByRole('button', { name: 'Store in the season', exact: true, disabled: false }).click();
    await page.locator('.roster .entry', { hasText: 'Ida Falk' }).waitFor();
    assert.match(await page.locator('.rail .about').first().innerText(), /1,013 serves, 9 players/);
    await settled(page);
    await step(page, 'Spread').locator('.chart[aria-label*="Ida Falk"]').waitFor();
  });
  it('does not come in twice', async () => {
    await drop(page, ['again.csv', take]);
    const dialog = page.getByRole('dialog');
    await dialog.getByLabel('Player', { exact: true }).fill('Ida Falk');
    await dialog.getByLabel('Session', { exact: true }).fill('2026-09-20');
    await dialog.getByLabel('Session', { exact: true }).blur();
    await dialog.getByRole('button', { name: 'Store in the season', exact: true, disabled: false }).click();
    await dialog.waitFor({ state: 'detached' });
    await settled(page);
    assert.match(await page.locator('.rail .about').first().innerText(), /1,013 serves, 9 players/);
  });
  it('is refused with the place where it is broken, and nothing is stored', async () => {
    await drop(page, ['broken.csv', take.replace(/\n(0\.2\d*),(-?\d+)/, '\n$1,oops')], ['empty.bvh', '']);
    const dialog = page.getByRole('dialog');
    await dialog
      .locator('.file', { hasText: 'broken.csv' })
      .getByText(/line|row/)
      .first()
      .waitFor();
    await dialog.locator('.file', { hasText: 'empty.bvh' }).getByText('empty').last().waitFor();
    assert.ok(await dialog.getByRole('button', { name: 'Store' }).last().isDisabled());
    await page.keyboard.press('Escape');
    await dialog.waitFor({ state: 'detached' });
    assert.match(await page.locator('.rail .about').first().innerText(), /1,013 serves, 9 players/);
  });
  it('broke no rule of the page', () => assert.deepEqual(faults, []));
});
