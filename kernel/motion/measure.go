package motion

// Measure describes one number computed from one serve. Measures are registered in this package and read from here
// by recipes, page, exports and documentation alike.
type Measure struct {
	ID         string // snake case without the unit: "contact_offset"
	Title      string // "Contact offset"
	Unit       string // "m", "deg", "deg/s", "m/s", "s", "%"
	Sign       string // what positive means, or ""
	Definition string // one or two sentences
	Needs      string // what a recording must have, and the stand-in that serves instead
	Source     string // author and year, or "common practice"
	Version    int    // raised whenever a value may change

	// Noise is the root mean square by which white noise of 3 mm on every coordinate at 200 Hz moves the value, the
	// events held: the noise of a good marker system. 0 where only the events count.
	Noise float64
	// Camera is the view from which a recording of one camera gives the measure: "behind", "side", "behind or side", or
	// "" where it takes more than one.
	Camera string
}

// Column is the column name of the measure in tables and exports: its ID and unit, such as "contact_offset_m",
// "front_knee_flexion_deg", "long_axis_speed_deg_s".
func (m Measure) Column() string {
	switch m.Unit {
	case "deg/s":
		return m.ID + "_deg_s"
	case "m/s":
		return m.ID + "_m_s"
	case "%":
		return m.ID + "_pct"
	case "":
		return m.ID
	}
	return m.ID + "_" + m.Unit
}

// BasisColumn and MissingColumn are the text columns beside Column: what the value was computed from ("racket",
// "hand"), null where there is no value; and why there is none, null where there is one.
func (m Measure) BasisColumn() string   { return m.ID + "_basis" }
func (m Measure) MissingColumn() string { return m.ID + "_missing" }

// Value is one measure of one serve. Missing is empty and Basis set when there is a value; otherwise Missing says
// why there is none and Number is NaN.
type Value struct {
	Number  float64
	Basis   string // "racket", "ball", "body" or "hand": what it was computed from
	StandIn bool   // the basis stands in for the one the definition asks for
	Missing string // "no racket", "gap at contact", "cut off", ...
}

// BasisText is the text of BasisColumn: "racket", "hand (stand-in)", or "" where there is no value.
func (v Value) BasisText() string {
	if !v.StandIn {
		return v.Basis
	}
	switch v.Basis {
	case fromHand:
		return "hand (stand-in)"
	case fromBody:
		return "body (stand-in)"
	}
	return v.Basis + " (stand-in)"
}
