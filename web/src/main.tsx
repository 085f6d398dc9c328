// Where the page begins: come in, say hello, show what the address names.
import { effect } from '@preact/signals';
import { render } from 'preact';
import { address, go } from './address';
import { App } from './app';
import * as desk from './desk';
import * as groups from './groups';
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
  groups.listen();
  desk.listen();
  files.listen();
  thumbnails.restore();
  thumbnails.follow();
  let laid = ''; // the recipe that was asked for last
  const lay = (recipe: string): Promise<void> => desk.open((laid = recipe));
  const home = () => season.first()?.recipe ?? '';
  link.onOpen(season.greet);
  link.onOpen(groups.greet);
  link.onOpen(async () => {
    if (!address.peek().recipe) go({ recipe: home() }, 'replace');
    await lay(address.peek().recipe);
  });
  effect(() => {
    const wanted = address.value.recipe;
    if (!laid || wanted === laid) return;
    if (wanted) void lay(wanted);
    else go({ recipe: home() }, 'replace');
  });
  link.connect();
  render(<App />, document.getElementById('page') as HTMLElement);
}

void begin();
