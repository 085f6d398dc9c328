// The width that an element has on the page, in px, so that drawings in it need not be stretched.
import { useEffect, useRef, useState } from 'preact/hooks';

export function useWidth<E extends Element>(first: number) {
  const box = useRef<E>(null);
  const [width, setWidth] = useState(first);
  useEffect(() => {
    const e = box.current;
    if (!e) return;
    const watch = new ResizeObserver(() => setWidth(Math.max(1, e.clientWidth)));
    watch.observe(e);
    return () => watch.disconnect();
  }, []);
  return { box, width };
}
