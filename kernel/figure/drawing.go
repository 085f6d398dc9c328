package figure

// Drawing is what the page draws of a Figure: panels side by side, each a stick figure in space with its marks. It is
// encoded as JSON into result.Result.Figure.
//
// # Space
//
// Points are [x, y, z] in metres: x the way the player serves, y up from the court, z to the player's right. In each
// panel x and z are counted from under the hitting shoulder, so that panels compare. All panels are drawn to one scale
// and turned together.
//
// # Turning
//
// View gives the first direction of looking. With azimuth a and elevation e (degrees, e positive = from above) a point
// p has on the screen
//
//	right = p.x sin a + p.z cos a
//	up    = p.y cos e + (p.x cos a - p.z sin a) sin e
//
// so that azimuth 0 looks from behind (right = z) and azimuth 90 from the hitting side (right = x). The projection is
// parallel: lengths across the line of sight can be read off with one scale. Low and High bound everything drawn, over
// all panels.
//
// # Order and colour
//
// Draw grounds, planes, trails, segments, rings, dots, angles, dimensions, labels, in that order; farther segments
// before nearer ones is enough for depth. A role is a colour name of the page's palette, as in result.Chart. Widths and
// radii in px are at a scale of 1 px on the page; lengths in metres turn and scale with the figure.
type Drawing struct {
	Panels  []Panel `json:"panels"`
	View    View    `json:"view"`
	Low     Point   `json:"low"`
	High    Point   `json:"high"`
	HeightP int     `json:"height_px"`
	Note    string  `json:"note,omitempty"` // stands under the figure
	Summary string  `json:"summary"`        // what is to be seen, for those who cannot see it
}

// Point is x, y, z in metres.
type Point [3]float64

// View is a direction of looking, in degrees.
type View struct {
	Name      string  `json:"name"` // "from behind"
	Azimuth   float64 `json:"azimuth_deg"`
	Elevation float64 `json:"elevation_deg"`
}

// Panel is one serve at one instant.
type Panel struct {
	Serve    string `json:"serve"`   // its id
	Caption  string `json:"caption"` // "Tuva Brandt, 14 March 2026, serve 31"
	Instant  string `json:"instant"` // "contact"
	Role     string `json:"role"`    // colour of the whole figure: "clay" for the chosen serve, "court" for a reference
	Mirrored bool   `json:"mirrored"`
	// Missing lists in words what of the body is not drawn because it was not tracked at this instant.
	Missing []string `json:"missing,omitempty"`

	Grounds    []Line      `json:"grounds,omitempty"`
	Planes     []Plane     `json:"planes,omitempty"`
	Trails     []Trail     `json:"trails,omitempty"`
	Segments   []Line      `json:"segments,omitempty"`
	Rings      []Ring      `json:"rings,omitempty"`
	Dots       []Dot       `json:"dots,omitempty"`
	Angles     []Angle     `json:"angles,omitempty"`
	Dimensions []Dimension `json:"dimensions,omitempty"`
	Labels     []Label     `json:"labels,omitempty"`
}

// Line is a straight stroke.
type Line struct {
	From   Point   `json:"from"`
	To     Point   `json:"to"`
	Role   string  `json:"role"`
	WidthP float64 `json:"width_px"`
	Dashed bool    `json:"dashed,omitempty"`
	Part   string  `json:"part,omitempty"` // "trunk", "hitting arm", "racket", ...
}

// Plane is a rectangle in space, its corners in order. Seen edge on it is a dashed line from its lowest to its highest
// point, else a faint surface.
type Plane struct {
	Corners [4]Point `json:"corners"`
	Role    string   `json:"role"`
	Name    string   `json:"name"` // "plane of the hitting shoulder"
}

// Trail is the path of a point in time, oldest first.
type Trail struct {
	Points []Point `json:"points"`
	Role   string  `json:"role"`
	WidthP float64 `json:"width_px"`
	Name   string  `json:"name"`
}

// Ring is a circle that faces the viewer: the head.
type Ring struct {
	At      Point   `json:"at"`
	RadiusM float64 `json:"radius_m"`
	Role    string  `json:"role"`
	WidthP  float64 `json:"width_px"`
}

// Dot is a filled disc of fixed size: the ball, a joint, the point of contact.
type Dot struct {
	At      Point   `json:"at"`
	Role    string  `json:"role"`
	RadiusP float64 `json:"radius_px"`
	Hollow  bool    `json:"hollow,omitempty"` // paper inside: a stand-in
	Name    string  `json:"name"`
}

// Angle is an arc at At, between the directions to From and To, with its label beside it.
type Angle struct {
	At      Point   `json:"at"`
	From    Point   `json:"from"`
	To      Point   `json:"to"`
	RadiusM float64 `json:"radius_m"`
	Role    string  `json:"role"`
	Label   string  `json:"label"` // "62°"
}

// Dimension is a measured length, drawn as a thin line with short ends and its label beyond To.
type Dimension struct {
	From  Point  `json:"from"`
	To    Point  `json:"to"`
	Role  string `json:"role"`
	Label string `json:"label"` // "+0.12 m"
}

// Label is text at a point, beside it to the right, or to the left when Left.
type Label struct {
	At   Point  `json:"at"`
	Text string `json:"text"`
	Role string `json:"role"`
	Left bool   `json:"left,omitempty"`
}
