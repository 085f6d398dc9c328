// A table that came from elsewhere: kept, read by a recipe, looked at, taken out and put back.
import assert from 'node:assert/strict';
import { readFileSync, writeFileSync } from 'node:fs';
import { after, before, describe, it } from 'node:test';
import { axe } from './arrive.mjs';
import { newPage } from './browser.mjs';
import { open, run } from './program.mjs';
import { accessible, drop, saved, settled } from './reader.mjs';
import { browser, folder } from './stage.mjs';
import { take } from './takes.mjs';

describe('a table from elsewhere', () => {
  const season = `${folder}/Beside`;
  const lab = 'serve;knee_deg\nfirst;71,5\nsecond;\n';
  let page, faults, program;
  before(async () => {
    writeFileSync(`${folder}/take.csv`, take);
    run('import', '--season', season, '--player', 'Nils Orre', '--session', '2026-09-20', `${folder}/take.csv`);
    program = await open(season);
    ({ page, faults } = await newPage(await browser(), program.origin));
    await page.goto(program.address);
    await settled(page);
  });
  after(async () => {
    await page.context().close();
    await program.stop();
  });

  const dialog = () => page.getByRole('dialog');
  const kept = (of) => of.locator('.roster .entry', { hasText: 'lab' });

  it('is told from a recording, and kept under a name', async () => {
    await drop(page, ['lab report.csv', Buffer.from(lab)]);
    await dialog().getByText('As a table: 2 rows of serve, knee_deg in deg.').waitFor();
    await dialog().getByText('It is no recording: lab report.csv, line 1').waitFor();
    const name = dialog().getByLabel('To keep it, name it', { exact: true });
    assert.ok(await dialog().getByRole('button', { name: 'Store in the season', exact: true }).isDisabled());
    assert.equal(await name.getAttribute('placeholder'), 'lab report');
    await accessible(page, axe);
    await name.fill('lab');
    await dialog().getByRole('button', { name: 'Store in the season', exact: true, disabled: false }).click();
    await dialog().waitFor({ state: 'detached' });
    await kept(page).waitFor();
    assert.match(await kept(page).innerText(), /^lab\b.*\b2$/s);
    await settled(page);
  });
  it('is looked at, saved, taken out and put back', async () => {
    await kept(page).press('Enter');
    await dialog().getByText('71.5', { exact: true }).waitFor();
    await dialog().getByText(/^From lab report.csv, kept on .* season.Table\("lab"\)/).waitFor();
    await accessible(page, axe);
    const csv = await saved(page, async () => {
      await dialog().getByRole('button', { name: 'Save', exact: true }).click();
      await dialog().getByRole('button', { name: 'Numbers as CSV', exact: true }).click();
    });
    assert.equal(readFileSync(csv.path, 'utf8'), 'serve,knee_deg\n"first",71.5\n"second",\n');
    await dialog().getByRole('button', { name: 'Take it out', exact: true }).click();
    await kept(page).waitFor({ state: 'detached' });
    await page.getByRole('button', { name: 'Changes and files', exact: true }).click();
    const change = dialog().locator('.history li', { hasText: 'Table lab taken out' });
    await change.getByRole('button', { name: 'Take back', exact: true }).click();
    await change.getByRole('button', { name: 'Put back', exact: true }).waitFor();
    await dialog().getByRole('button', { name: 'Close', exact: true }).click();
    await kept(page).waitFor();
  });
  it('leaves as it came, and a recording is still taken for one', async () => {
    run('export', '--season', season, '--table', 'lab', '-o', `${folder}/lab.csv`);
    assert.equal(readFileSync(`${folder}/lab.csv`, 'utf8'), 'serve,knee_deg\n"first",71.5\n"second",\n');
    await drop(page, ['take.csv', Buffer.from(take)]);
    await dialog().getByLabel('Player', { exact: true }).waitFor();
    await dialog().getByRole('button', { name: 'Store nothing', exact: true }).click();
    await dialog().waitFor({ state: 'detached' });
  });
  it('broke no rule of the page', () => assert.deepEqual(faults, []));
});
