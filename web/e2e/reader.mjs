// What a reader of the page sees and does, in words of the page.
import assert from 'node:assert/strict';

/** Wait until the recipe has run and nothing on the page is out of date. */
export async function settled(page, recipe) {
  if (recipe) await page.locator('.recipe').getByRole('heading', { level: 1, name: recipe, exact: true }).waitFor();
  await page.waitForFunction(() => {
    const steps = [...document.querySelectorAll('.step')];
    return (
      steps.length > 0 &&
      !document.querySelector('.progress') &&
      steps.every((s) => ['done', 'failed', 'skipped'].includes(s.dataset.state) && s.dataset.old === undefined)
    );
  });
}

/** Wait until every chart that is shown has been drawn. */
export const painted = (page) =>
  page.waitForFunction(() => [...document.querySelectorAll('.chart .drawn')].every((c) => c.dataset.painted));

export const openRecipe = (page, title) =>
  page.locator('.shelf .entry', { has: page.getByText(title, { exact: true }) }).click();
export const step = (page, name) => page.locator(`#${name}`);
export const quiet = async (page, name) =>
  (await step(page, name).locator('.quiet').last().innerText()).replace(/\s+/g, ' ');

/** Whether anything has been drawn on a canvas. */
export function inked(canvas) {
  return canvas.evaluate((c) => {
    const { data } = c.getContext('2d').getImageData(0, 0, c.width, c.height);
    return data.some((v, i) => i % 4 === 3 && v > 0);
  });
}

/** Drop files on the page, as from the desktop: [name, content] each. */
export async function drop(page, ...files) {
  const data = await page.evaluateHandle((list) => {
    const data = new DataTransfer();
    for (const [name, base64] of list)
      data.items.add(new File([Uint8Array.from(atob(base64), (c) => c.charCodeAt(0))], name));
    return data;
  }, carried(files));
  await page.dispatchEvent('body', 'dragenter', { dataTransfer: data });
  await page.dispatchEvent('body', 'drop', { dataTransfer: data });
}

const carried = (files) => files.map(([name, content]) => [name, Buffer.from(content).toString('base64')]);

/** Take a file that the page saves. */
export async function saved(page, act) {
  const [download] = await Promise.all([page.waitForEvent('download'), act()]);
  return { name: download.suggestedFilename(), path: await download.path() };
}

/** Put a text into the source editor, in place of all of it. */
export async function write(page, source) {
  await page.locator('.cm-content').click();
  await page.keyboard.press('Control+a');
  await page.keyboard.insertText(source);
}

/** No rule of WCAG that can be checked by program is broken. */
export async function accessible(page, axe, context = 'document') {
  await page.evaluate(axe);
  const broken = await page.evaluate(async (where) => {
    const found = await globalThis.axe.run(where === 'document' ? document : where, {
      runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'],
    });
    return found.violations.map(
      (v) =>
        `${v.id}: ${v.nodes
          .slice(0, 4)
          .map((n) => `${n.target.join(' ')} (${n.failureSummary?.split('\n')[1]?.trim()})`)
          .join('; ')}`,
    );
  }, context);
  assert.deepEqual(broken, []);
}
