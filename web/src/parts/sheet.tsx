// A sheet over the page: a dialog with a title, what it says, and at its foot what can be done. Escape closes it.
import type { ComponentChildren } from 'preact';
import { useEffect, useId, useRef } from 'preact/hooks';

interface Props {
  title: string;
  close: () => void;
  acts?: ComponentChildren; // a button that closes it, where none are given
  children: ComponentChildren;
}

export function Sheet({ title, close, acts, children }: Props) {
  const box = useRef<HTMLDialogElement>(null);
  const id = useId();
  useEffect(() => {
    const back = document.activeElement as HTMLElement | null;
    box.current?.showModal();
    return () => back?.focus();
  }, []);
  return (
    <dialog
      class="intake"
      ref={box}
      aria-labelledby={id}
      onCancel={(e) => {
        e.preventDefault();
        close();
      }}
    >
      <div class="intake-body">
        <h2 id={id}>{title}</h2>
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
