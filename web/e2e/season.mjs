// A season from its first day: takes come in, serves are put right, grouped and taken away, recordings leave again.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { after, before, describe, it } from 'node:test';
import { axe } from './arrive.mjs';
import { newPage } from './browser.mjs';
import { open, run } from './program.mjs';
import { accessible, drop, openRecipe, saved, settled, step } from './reader.mjs';
import { browser, folder } from './stage.mjs';
import { asBVH, asC3D, endless, repeated } from './takes.mjs';

describe('a season from its first day', () => {
  let page, faults, program;
  before(async () => {
    program = await open(`${folder}/Quay Side`);
    ({ page, faults } = await newPage(await browser(), program.origin));
    await page.goto(program.address);
  });
  after(async () => {
    await page.context().close();
    await program.stop();
  });

  const dialog = () => page.getByRole('dialog');
  const player = (name) => page.locator('.roster li', { has: page.locator('.entry b', { hasText: name }) });
  const about = () => page.locator('.rail .about').first().innerText();
  const store = async (name, day) => {
    await dialog().getByLabel('Player', { exact: true }).fill(name);
    await dialog().getByLabel('Session', { exact: true }).fill(day);
    await dialog().getByLabel('Session', { exact: true }).blur();
    await dialog().getByRole('button', { name: 'Store in the season', exact: true, disabled: false }).click();
    await dialog().waitFor({ state: 'detached' });
    await player(name).waitFor();
    await settled(page);
  };
  const openPlayer = async (name) => {
    const entry = player(name).locator('.entry');
    if ((await entry.getAttribute('aria-expanded')) !== 'true') await entry.click();
    return player(name);
  };
  const openServe = async (name) => {
    await (await openPlayer(name)).locator('.sessions button', { hasText: 'serve' }).first().click();
    await page.locator('.serve canvas').waitFor();
    await page.locator('.put-right summary').click();
    return page.locator('.put-right');
  };

  it('says that nothing is in it yet, and what to do', async () => {
    await page.getByRole('heading', { name: 'This season is empty' }).waitFor();
    await accessible(page, axe);
  });
  it('takes motion (BVH) in, after a look at it', async () => {
    await drop(page, ['first.bvh', asBVH()]);
    await dialog().getByText('1 serve found.', { exact: true }).waitFor();
    await dialog().getByText('BVH, 147 frames', { exact: true }).waitFor();
    await store('Ida Falk', '2026-09-20');
    await openRecipe(page, 'Contact offset');
    await settled(page, 'Contact offset');
    assert.match(await about(), /^1 serve, 1 player/);
  });
  it('takes points (C3D) in, after a look at them', async () => {
    const elsewhere = `${folder}/Elsewhere`;
    writeFileSync(`${folder}/three.csv`, repeated(3));
    run('import', '--season', elsewhere, '--player', 'x', '--session', '2026-09-21', `${folder}/three.csv`);
    await drop(page, ...asC3D(elsewhere, `${folder}/c3d`));
    await dialog().getByText('3 serves found.', { exact: true }).waitFor();
    await dialog().getByText('C3D, 441 frames', { exact: true }).waitFor();
    await store('Nils Orre', '2026-09-21');
    assert.match(await about(), /^4 serves, 2 players/);
  });

  it('keeps what is put right by hand over a reload', async () => {
    let sheet = await openServe('Nils Orre');
    await sheet.getByLabel('Outcome', { exact: true }).fill('wide');
    await sheet.getByRole('button', { name: 'Keep', exact: true }).click();
    await sheet.locator('.history li').first().waitFor();
    await page
      .locator('.timebar')
      .getByRole('button', { name: /^contact, / })
      .focus();
    await page.keyboard.press('ArrowRight');
    const byHand = page.locator('.facts tr', { hasText: /^contact/ }).getByRole('button', { name: 'take back' });
    await byHand.waitFor();
    await settled(page);
    await page.reload();
    await byHand.waitFor();
    await page.locator('.put-right summary').click();
    sheet = page.locator('.put-right');
    assert.equal(await sheet.getByLabel('Outcome', { exact: true }).inputValue(), 'wide');
    await sheet.locator('.history li').nth(1).waitFor();
    assert.equal(await sheet.locator('.history li').count(), 2);
    await settled(page);
  });
  it('joins two serves to one, and finds the serves of the take anew', async () => {
    const before = page.url();
    await page.locator('.put-right').getByRole('button', { name: 'Join the next one to it', exact: true }).click();
    await page.waitForURL((url) => url.href !== before);
    await page.locator('.rail .about', { hasText: /^3 serves, 2 players/ }).waitFor();
    await settled(page);
    await page.getByRole('button', { name: 'Close the serve', exact: true }).click();
    await (await openPlayer('Nils Orre')).getByRole('button', { name: 'About this player', exact: true }).click();
    await dialog().getByRole('button', { name: 'Find its serves anew', exact: true }).click();
    const change = (what) => dialog().locator('.history li', { hasText: what });
    await change('serves found again').getByRole('button', { name: 'Take back', exact: true }).click();
    await change('serves found again').getByRole('button', { name: 'Put back', exact: true }).waitFor();
    assert.match(await about(), /^3 serves, 2 players/); // what a person joined stays joined
    await change('a serve cut by hand').getByRole('button', { name: 'Take back', exact: true }).click();
    await page.locator('.rail .about', { hasText: /^4 serves, 2 players/ }).waitFor();
    await dialog().getByRole('button', { name: 'Close', exact: true }).click();
    await settled(page);
  });

  it('keeps a selection as a group, by keyboard, and shows and saves the rows of it alone', async () => {
    await (
      await openPlayer('Nils Orre')
    )
      .getByRole('button', { name: 'Select all serves', exact: true })
      .press('Enter');
    const strip = page.locator('.selected');
    await strip.getByText('3 serves selected', { exact: true }).waitFor();
    await strip.getByRole('button', { name: 'Keep as a group', exact: true }).press('Enter');
    await page.locator('.naming input:focus').waitFor();
    await page.keyboard.type('after the block');
    await accessible(page, axe);
    await page.keyboard.press('Enter');
    await strip.getByText('after the block: 3 serves selected', { exact: true }).waitFor();
    await page.reload();
    await settled(page);
    const group = page.locator('.roster .entry', { hasText: 'after the block' });
    await group.press('Enter');
    await strip.getByText('after the block: 3 serves selected', { exact: true }).waitFor();
    await page.emulateMedia({ colorScheme: 'dark' });
    await accessible(page, axe);
    await page.emulateMedia({ colorScheme: 'light' });

    const table = step(page, 'Contacts');
    await table.getByRole('button', { name: 'Selected only', exact: true }).click();
    await table.getByText('3 of 4 rows', { exact: true }).waitFor();
    const csv = await saved(page, async () => {
      await table.getByRole('button', { name: 'Save', exact: true }).click();
      await table.getByRole('button', { name: 'Numbers as CSV', exact: true }).click();
    });
    assert.equal(readFileSync(csv.path, 'utf8').trim().split('\n').length, 4);
    await table.getByRole('button', { name: 'Selected only', exact: true }).click();
    await table.getByText('3 of 4 rows', { exact: true }).waitFor({ state: 'detached' });
    run('export', '--season', `${folder}/Quay Side`, '--table', 'groups', '-o', `${folder}/groups.csv`);
    await page.getByRole('button', { name: 'Forget this group', exact: true }).press('Enter');
    await group.waitFor({ state: 'detached' });
    await strip.getByRole('button', { name: 'Let go', exact: true }).click();
    await strip.waitFor({ state: 'detached' });
  });
  it('takes a table of groups in again, after a look at what it brings', async () => {
    await drop(page, ['groups.csv', readFileSync(`${folder}/groups.csv`)]);
    await dialog().getByText('Group after the block: 3 serves', { exact: true }).waitFor();
    await accessible(page, axe);
    await dialog().getByRole('button', { name: 'Store in the season', exact: true }).click();
    await dialog().waitFor({ state: 'detached' });
    const group = page.locator('.roster .entry', { hasText: 'after the block' });
    await group.press('Enter');
    await page.locator('.selected').getByText('after the block: 3 serves selected', { exact: true }).waitFor();
    await page.getByRole('button', { name: 'Forget this group', exact: true }).press('Enter');
    await group.waitFor({ state: 'detached' });
    await page.locator('.selected').getByRole('button', { name: 'Let go', exact: true }).click();
    await settled(page);
  });

  it('stops reading a file that is left out', async () => {
    const children = () =>
      execFileSync('ps', ['-o', 'pid=', '--ppid', program.pid], { encoding: 'utf8' }).trim().split('\n');
    const before = (await children()).length;
    await drop(page, ['endless.csv.gz', endless()]);
    await dialog().getByText('Reading it', { exact: true }).waitFor();
    while ((await children()).length === before) await page.waitForTimeout(20);
    await dialog().getByRole('button', { name: 'Leave out', exact: true }).click();
    await dialog().waitFor({ state: 'detached' });
    while ((await children()).length > before) await page.waitForTimeout(20);
    assert.match(await about(), /^4 serves, 2 players/);
  });
  it('lets a recording go for good, once that is confirmed', async () => {
    await openServe('Ida Falk');
    await player('Ida Falk').getByRole('button', { name: 'About this player', exact: true }).click();
    const sheet = page.getByRole('dialog', { name: 'Ida Falk', exact: true }),
      question = page.getByRole('dialog', { name: 'Remove this recording?', exact: true });
    await sheet.getByRole('button', { name: 'Remove first.bvh', exact: true }).click();
    await question.getByText('first.bvh: 1 serve of Ida Falk, 20 September 2026.').waitFor();
    await accessible(page, axe);
    await page.keyboard.press('Escape');
    await question.waitFor({ state: 'detached' });
    await sheet.getByRole('button', { name: 'Remove first.bvh', exact: true }).click();
    await question.getByRole('button', { name: 'Remove it for good', exact: true }).click();
    await page.locator('.rail .about', { hasText: /^3 serves, 1 player/ }).waitFor();
    assert.equal(await dialog().count(), 0);
    assert.equal(await page.locator('.serve').count(), 0);
    await settled(page);
  });
  it('broke no rule of the page', () => assert.deepEqual(faults, []));
});
