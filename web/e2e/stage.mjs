// What the tests share: one demo season, one program that shows it, one browser.
import { after } from 'node:test';
import { launch, newPage } from './browser.mjs';
import { open, run, scratch } from './program.mjs';

export const folder = scratch();
const started = [];

/** The demo season; made once. */
export const demo = once(() => {
  const dir = `${folder}/Harbour Lane`;
  run('demo', dir);
  return dir;
});
export const browser = once(() => closing(launch(), (b) => b.close()));
export const program = once(async () => closing(open(await demo()), (p) => p.stop()));

/** The page of the first visitor, who used the address that the program printed. */
export const visit = once(async () => {
  const p = await program();
  const v = await newPage(await browser(), p.origin);
  await v.page.goto(p.address);
  return v;
});

function once(make) {
  let made;
  return () => (made ??= make());
}

async function closing(made, close) {
  const it = await made;
  started.unshift(() => close(it));
  return it;
}

after(async () => {
  for (const close of started) await close();
});
