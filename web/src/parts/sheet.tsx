// A sheet over the page: a dialog with a title, what it says, and at its foot what can be done. Escape closes it.
import type { ComponentChildren } from 'preact';
import { useEffect, useId, useRef } from 'preact/hooks';

interface Props {
  title: string;
  close: () => void;
  acts?: ComponentChildren; // a button that closes it, where none are given
  small?: boolean; // a question, no wider than it needs
  children: ComponentChildren;
}

export function Sheet({ title, close, acts, small, children }: Props) {
  const box = useRef<HTMLDialogElement>(null);
  const id = useId();
  useEffect(() => {
    const back = document.activeElement as HTMLElement | null;
    box.current?.showModal();
    if (!box.current?.querySelector('[autofocus]')) box.current?.querySelector('h2')?.focus();
    return () => back?.focus();
  }, []);
  return (
    <dialog
      class={`intake ${small ? 'small' : ''}`}
      ref={box}
      aria-labelledby={id}
      onCancel={(e) => {
        e.preventDefault();
        close();
      }}
    >
      <div class="intake-body">
        <h2 id={id} tabIndex={-1}>
          {title}
        </h2>
        {children}
      </div>
      <div class="acts">
        {acts ?? (
          <button type="button" class="act" onClick={close}>
            Close
          </button>
        )}
      </div>
    </dialog>
  );
}
