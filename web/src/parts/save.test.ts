import { expect, it } from 'vitest';
import { fileName } from './save';

it.each([
  [['Contact offset', 'Where the ball is met'], 'contact-offset-where-the-ball-is-met'],
  [['Did it change?'], 'did-it-change'],
  [['', '../x'], 'x'],
  [['Übung', 'Spiel 1'], 'übung-spiel-1'],
])('%j', (words, want) => expect(fileName(...words)).toBe(want));
