// What kernel/figure says is to be drawn of a serve; the twin of kernel/figure/drawing.go, where the terms are defined.
export type Point = readonly [number, number, number];

export interface Drawing {
  panels: Panel[];
  view: View;
  low: Point;
  high: Point;
  height_px: number;
  note?: string;
  summary: string;
}

export interface View {
  name: string;
  azimuth_deg: number;
  elevation_deg: number;
}

export interface Panel {
  serve: string;
  caption: string;
  instant: string;
  role: string;
  mirrored?: boolean;
  missing?: string[];
  grounds?: Line[];
  planes?: { corners: [Point, Point, Point, Point]; role: string; name: string }[];
  trails?: { points: Point[]; role: string; width_px: number; name: string }[];
  segments?: Line[];
  rings?: { at: Point; radius_m: number; role: string; width_px: number }[];
  dots?: { at: Point; role: string; radius_px: number; hollow?: boolean; name: string }[];
  angles?: { at: Point; from: Point; to: Point; radius_m: number; role: string; label: string }[];
  dimensions?: { from: Point; to: Point; role: string; label: string }[];
  labels?: { at: Point; text: string; role: string; left?: boolean }[];
}

export interface Line {
  from: Point;
  to: Point;
  role: string;
  width_px: number;
  dashed?: boolean;
  part?: string;
}
