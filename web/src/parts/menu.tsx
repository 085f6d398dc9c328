// A small menu behind a word: opens on click, closes on Escape, on choosing, and when the focus leaves it.
import { useEffect, useRef, useState } from 'preact/hooks';

export interface MenuItem {
  name: string;
  run: () => unknown;
}

export function Menu({ name, items, below }: { name: string; items: MenuItem[]; below?: boolean }) {
  const [open, setOpen] = useState(false);
  const box = useRef<HTMLDivElement>(null);
  useEffect(() => {
    if (open) box.current?.querySelector<HTMLElement>('.menu-list button')?.focus();
  }, [open]);
  const move = (by: number) => {
    const all = [...(box.current?.querySelectorAll<HTMLElement>('.menu-list button') ?? [])];
    const at = all.indexOf(document.activeElement as HTMLElement);
    all[(at + by + all.length) % all.length]?.focus();
  };
  const key = (e: KeyboardEvent) => {
    if (!open) return;
    if (e.key === 'Escape') {
      setOpen(false);
      box.current?.querySelector<HTMLElement>('button')?.focus();
    } else if (e.key === 'ArrowDown') move(1);
    else if (e.key === 'ArrowUp') move(-1);
    else return;
    e.preventDefault();
    e.stopPropagation();
  };
  const leave = (e: FocusEvent) => {
    if (!box.current?.contains(e.relatedTarget as Node | null)) setOpen(false);
  };
  return (
    <div class="menu" ref={box} onKeyDown={key} onFocusOut={leave}>
      <button type="button" class="link" aria-haspopup="true" aria-expanded={open} onClick={() => setOpen(!open)}>
        {name}
      </button>
      {open && (
        <div class={below ? 'menu-list below' : 'menu-list'}>
          {items.map((i) => (
            <button
              type="button"
              key={i.name}
              onClick={() => {
                setOpen(false);
                void i.run();
              }}
            >
              {i.name}
            </button>
          ))}
        </div>
      )}
    </div>
  );
}
