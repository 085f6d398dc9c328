import { render } from 'preact';
import { describe, expect, it } from 'vitest';
import { blocks, Prose } from './prose';

describe('blocks', () => {
  it.each([
    [
      'lines of a paragraph join',
      'One\ntwo.\n\nThree.',
      [
        { kind: 'p', text: 'One two.' },
        { kind: 'p', text: 'Three.' },
      ],
    ],
    [
      'a heading stands alone',
      '# Why\n\nText',
      [
        { kind: 'h', text: 'Why' },
        { kind: 'p', text: 'Text' },
      ],
    ],
    ['a bullet list', '  - a\n    more\n  - b', [{ kind: 'ul', items: ['a more', 'b'] }]],
    ['a numbered list over a gap', ' 1. a\n\n 2. b', [{ kind: 'ol', items: ['a', 'b'] }]],
    ['code keeps its inner indent', '\tif x {\n\t\ty()\n\t}', [{ kind: 'code', text: 'if x {\n\ty()\n}' }]],
    ['link definitions are no text', 'See [it].\n[it]: https://example.org', [{ kind: 'p', text: 'See [it].' }]],
    ['nothing', '\n\n', []],
  ])('%s', (_, text, want) => expect(blocks(text)).toEqual(want));
});

function shown(text: string): HTMLElement {
  const box = document.createElement('div');
  render(<Prose text={text} />, box);
  return box;
}

it('never makes markup of what a recipe says', () => {
  const box = shown('<img src=x onerror=alert(1)> & <b>bold</b>');
  expect(box.querySelector('img, b')).toBeNull();
  expect(box.textContent).toBe('<img src=x onerror=alert(1)> & <b>bold</b>');
});

it.each([
  ['a web address without its full stop', 'At https://example.org/a.', 'https://example.org/a'],
  ['a step', 'See [Spread] below.', '#Spread'],
])('links %s', (_, text, href) => expect(shown(text).querySelector('a')?.getAttribute('href')).toBe(href));

it.each(['javascript:alert(1)', 'data:text/html,x', '[lower]'])('makes no link of %s', (text) => {
  expect(shown(text).querySelector('a')).toBeNull();
});
