// Where the page begins: come in, say hello, show what the address names.
import { effect } from '@preact/signals';
import { render } from 'preact';
import { address, go } from './address';
import { App } from './app';
import * as desk from './desk';
import * as files from './intake/files';
import { Link, link } from './link';
import { refresh } from './palette';
import * as season from './season';
import './style/all.css';
import * as thumbnails from './thumbnails';

async function begin(): Promise<void> {
  refresh();
  void import('./chart/echarts'); // nearly every recipe draws a chart: fetch it while the link opens
  await Link.enter();
  season.listen();
  desk.listen();
  files.listen();
  thumbnails.restore();
  thumbnails.follow();
  link.onOpen(season.greet);
  link.onOpen(async () => {
    if (!address.peek().recipe) {
      const first = season.first();
      if (first) history.replaceState(null, '', `?recipe=${encodeURIComponent(first.recipe)}`);
      if (first) address.value = { ...address.peek(), recipe: first.recipe };
    }
    await desk.open(address.peek().recipe);
  });
  link.connect();
  let shown = '';
  effect(() => {
    const wanted = address.value.recipe;
    if (wanted === shown) return;
    const before = shown;
    shown = wanted;
    if (!wanted) {
      const first = season.first();
      if (first && before) go({ recipe: first.recipe });
    } else if (before) void desk.open(wanted);
  });
  render(<App />, document.getElementById('page') as HTMLElement);
}

void begin();
