// A sheet over the page: a dialog with a title that closes on Escape.
import type { ComponentChildren } from 'preact';
import { useEffect, useRef } from 'preact/hooks';

export function OverPage({
  title,
  close,
  children,
}: {
  title: string;
  close: () => void;
  children: ComponentChildren;
}) {
  const box = useRef<HTMLDialogElement>(null);
  useEffect(() => {
    const back = document.activeElement as HTMLElement | null;
    box.current?.showModal();
    return () => back?.focus();
  }, []);
  return (
    <dialog
      class="intake"
      ref={box}
      aria-labelledby="over-title"
      onCancel={(e) => {
        e.preventDefault();
        close();
      }}
    >
      <div class="intake-body">
        <h2 id="over-title">{title}</h2>
        {children}
      </div>
      <div class="acts">
        <button type="button" class="act" onClick={close}>
          Close
        </button>
      </div>
    </dialog>
  );
}
