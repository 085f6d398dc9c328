// How long readers wait: from the start of the program to a usable page, and from a setting to its painted chart, on
// the demo season (made before). Prints medians, and fails where one is over its limit.
import { launch, newPage } from './browser.mjs';
import { open, run, scratch } from './program.mjs';
import { painted, settled } from './reader.mjs';

const rounds = Number(process.env.ROUNDS ?? 5);
const limits = {
  'start to a usable page': 2000,
  'start to a finished recipe, painted': 0,
  'a setting to its painted chart': 300,
};
const times = Object.fromEntries(Object.keys(limits).map((name) => [name, []]));

const dir = `${scratch()}/Harbour Lane`;
run('demo', dir);
const browser = await launch();
for (let i = 0; i < rounds; i++) {
  const began = performance.now();
  const program = await open(dir);
  const { page, context } = await newPage(browser, program.origin);
  await page.goto(program.address);
  await page.locator('.step h2').first().waitFor();
  times['start to a usable page'].push(performance.now() - began);
  await settled(page, 'Contact offset');
  await painted(page);
  times['start to a finished recipe, painted'].push(performance.now() - began);
  for (let k = 0; k < 5; k++) times['a setting to its painted chart'].push(await page.evaluate(change, 0.11 + k / 100));
  await context.close();
  await program.stop();
}
await browser.close();

/** In the page: move the slider, and wait until the chart was drawn anew. Gives milliseconds. */
function change(value) {
  const slider = document.querySelector('.setting input[type=range]');
  const chart = document.querySelector('#Spread .drawn');
  return new Promise((done) => {
    const before = performance.now();
    const watch = new MutationObserver(() => {
      watch.disconnect();
      requestAnimationFrame(() => done(performance.now() - before));
    });
    watch.observe(chart, { attributes: true, attributeFilter: ['data-painted'] });
    slider.value = String(value);
    slider.dispatchEvent(new Event('input', { bubbles: true }));
  });
}

for (const [name, all] of Object.entries(times)) {
  const middle = all.sort((a, b) => a - b)[Math.floor(all.length / 2)];
  const limit = limits[name];
  console.log(`${name}: ${Math.round(middle)} ms (median of ${all.length}${limit ? `; at most ${limit} ms` : ''})`);
  if (limit && middle > limit) process.exitCode = 1;
}
