// A real Chromium, and pages in it that note everything that must not happen.
import { existsSync } from 'node:fs';
import { spawnSync } from 'node:child_process';
import { chromium } from 'playwright-core';

const names = ['chromium', 'chromium-browser', 'google-chrome'];

/** The browser to drive: CHROMIUM where it is set, else one on the PATH; browser.sh installs one. */
function executable() {
  const set = process.env.CHROMIUM;
  if (set && existsSync(set)) return set;
  for (const name of names) {
    const found = spawnSync('sh', ['-c', `command -v ${name}`], { encoding: 'utf8' }).stdout.trim();
    if (found) return found;
  }
  throw new Error('There is no Chromium: run sh web/e2e/browser.sh, or set CHROMIUM.');
}

export function launch() {
  return chromium.launch({ executablePath: executable(), args: ['--no-sandbox', '--disable-gpu', '--disable-quic'] });
}

/** A page whose faults are kept: errors, what the security policy stopped, and requests to anywhere but its origin. */
export async function newPage(browser, origin, options = {}) {
  const context = await browser.newContext({
    viewport: { width: 1440, height: 900 },
    reducedMotion: 'reduce',
    ...options,
  });
  context.setDefaultTimeout(60_000);
  const faults = [];
  context.on('page', (page) => {
    page.on('pageerror', (e) => faults.push(`error: ${e.message}`));
    page.on('console', (m) => {
      if (m.type() === 'error' && !expected.test(m.text())) faults.push(`console: ${m.text()}`);
    });
  });
  context.on('request', (r) => {
    const url = r.url();
    if (!/^(data|blob):/.test(url) && !url.replace(/^ws:/, 'http:').startsWith(`${origin}/`))
      faults.push(`request: ${url}`);
  });
  await context.addInitScript(() =>
    addEventListener('securitypolicyviolation', (e) => console.error(`policy: ${e.violatedDirective} ${e.blockedURI}`)),
  );
  const page = await context.newPage();
  return { page, context, faults };
}

/** What the browser itself reports when the program is stopped on purpose. */
const expected = /WebSocket connection to .* failed|net::ERR_CONNECTION_(REFUSED|RESET)|status of 401/;
