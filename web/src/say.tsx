// One sentence to the reader at the foot of the page, gone after a while.
import { signal } from '@preact/signals';

const said = signal('');
let timer: ReturnType<typeof setTimeout> | undefined;

export function say(text: string): void {
  said.value = text;
  clearTimeout(timer);
  timer = setTimeout(() => {
    said.value = '';
  }, 7000);
}

export function Said() {
  return <div aria-live="polite">{said.value && <p class="lost">{said.value}</p>}</div>;
}
