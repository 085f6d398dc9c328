// Dropping files anywhere on the page, or choosing them.
import { signal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { welcome } from '../season';
import { takeFiles } from './files';

const over = signal(false);

export function browse(): void {
  const input = document.createElement('input');
  input.type = 'file';
  input.multiple = true;
  input.accept = [...(welcome.peek()?.formats ?? []), '.go', '.gz'].join(',');
  input.onchange = () => takeFiles(input.files ?? []);
  input.click();
}

export function Drop() {
  useEffect(() => {
    const holds = (e: DragEvent) => e.dataTransfer?.types.includes('Files') ?? false;
    const enter = (e: DragEvent) => {
      if (!holds(e)) return;
      e.preventDefault();
      over.value = true;
    };
    const leave = (e: DragEvent) => {
      if (e.relatedTarget === null) over.value = false;
    };
    const drop = (e: DragEvent) => {
      if (!holds(e)) return;
      e.preventDefault();
      over.value = false;
      takeFiles(e.dataTransfer?.files ?? []);
    };
    addEventListener('dragenter', enter);
    addEventListener('dragover', enter);
    addEventListener('dragleave', leave);
    addEventListener('drop', drop);
    return () => {
      removeEventListener('dragenter', enter);
      removeEventListener('dragover', enter);
      removeEventListener('dragleave', leave);
      removeEventListener('drop', drop);
    };
  }, []);
  if (!over.value) return null;
  return (
    <div class="drop">
      <p>
        Drop recordings or a recipe<small>Nothing is stored before you have seen how it was understood.</small>
      </p>
    </div>
  );
}
