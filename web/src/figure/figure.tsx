// The figure of a step: panels side by side, to one scale, turned together.
import type { ComponentChildren } from 'preact';
import { pick } from '../selection';
import { fit } from './camera';
import type { Drawing } from './drawing';
import { paint } from './paint';
import { useStage } from './stage';

export function Figure({ drawing, quiet }: { drawing: Drawing; quiet?: ComponentChildren }) {
  const panels = drawing.panels ?? [];
  const stage = useStage(
    drawing.height_px || 340,
    { azimuth: drawing.view.azimuth_deg, elevation: drawing.view.elevation_deg },
    (g, w, h, view, p) => {
      const each = w / Math.max(1, panels.length);
      panels.forEach((panel, i) => {
        g.save();
        g.beginPath();
        g.rect(i * each, 0, each, h);
        g.clip();
        paint(g, panel, fit(drawing.low, drawing.high, view.azimuth, view.elevation, each, h, i * each), p);
        g.restore();
      });
    },
  );
  return (
    <figure class="figure">
      <canvas
        ref={stage.canvas}
        tabIndex={0}
        role="img"
        aria-label={`${drawing.summary} Arrow keys turn it, 0 turns it back.`}
        {...stage.handlers}
        onDblClick={stage.reset}
      />
      <figcaption>
        {panels.map((p) => (
          <span key={p.serve + p.role}>
            {p.serve ? (
              <button type="button" class="link" onClick={(e) => pick(p.serve, e)}>
                {p.caption}
              </button>
            ) : (
              p.caption
            )}
            {p.missing && p.missing.length > 0 && (
              <>
                <br />
                not tracked: {p.missing.join(', ')}
              </>
            )}
          </span>
        ))}
      </figcaption>
      <div class="quiet">
        {drawing.note && <span>{drawing.note}</span>}
        {quiet}
      </div>
    </figure>
  );
}
