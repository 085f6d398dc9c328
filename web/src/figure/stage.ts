// A canvas that can be turned: by dragging, and by the arrow keys.
import { useEffect, useRef } from 'preact/hooks';
import { palette, type Palette } from '../palette';

export interface Turned {
  azimuth: number;
  elevation: number;
}

type Draw = (g: CanvasRenderingContext2D, width: number, height: number, view: Turned, p: Palette) => void;

/** Hands a canvas of the right resolution to draw, at each rendering and when its size, palette or view changes. */
export function useStage(height: number, start: Turned, draw: Draw) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const view = useRef<Turned>({ ...start });
  const p = palette.value;
  const again = () => {
    const c = canvas.current;
    const g = c?.getContext('2d');
    if (!c || !g || c.clientWidth === 0) return;
    const ratio = Math.max(devicePixelRatio || 1, 1);
    const w = c.clientWidth;
    if (c.width !== Math.round(w * ratio) || c.height !== Math.round(height * ratio)) {
      c.width = Math.round(w * ratio);
      c.height = Math.round(height * ratio);
    }
    g.setTransform(ratio, 0, 0, ratio, 0, 0);
    g.clearRect(0, 0, w, height);
    draw(g, w, height, view.current, p);
  };
  const latest = useRef(again);
  latest.current = again;
  useEffect(() => latest.current());
  useEffect(() => {
    view.current = { ...start };
    latest.current();
  }, [start.azimuth, start.elevation]);
  useEffect(() => {
    const c = canvas.current;
    if (!c) return;
    c.style.height = `${height}px`;
    const watch = new ResizeObserver(() => latest.current());
    watch.observe(c);
    return () => watch.disconnect();
  }, [height]);

  const turn = (azimuth: number, elevation: number) => {
    view.current = {
      azimuth: ((((view.current.azimuth + azimuth + 180) % 360) + 360) % 360) - 180,
      elevation: Math.min(89, Math.max(-20, view.current.elevation + elevation)),
    };
    latest.current();
  };
  return {
    canvas,
    reset: () => {
      view.current = { ...start };
      latest.current();
    },
    look: (to: Turned) => {
      view.current = { ...to };
      latest.current();
    },
    handlers: {
      onPointerDown: (e: PointerEvent) => (e.currentTarget as HTMLElement).setPointerCapture(e.pointerId),
      onPointerMove: (e: PointerEvent) => {
        if (e.buttons & 1) turn(-e.movementX * 0.5, e.movementY * 0.4);
      },
      onKeyDown: (e: KeyboardEvent) => {
        const by = (
          { ArrowLeft: [6, 0], ArrowRight: [-6, 0], ArrowUp: [0, 5], ArrowDown: [0, -5] } as Record<
            string,
            [number, number]
          >
        )[e.key];
        if (by) turn(...by);
        else if (e.key === '0') {
          view.current = { ...start };
          latest.current();
        } else return;
        e.preventDefault();
      },
    },
  };
}
