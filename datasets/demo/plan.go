package demo

// plan is what one serve is asked to be: quantities that the model reaches exactly where it solves for them
// (flexion, offset, forward, drop), and others that shape the movement. Degrees, metres, seconds.
type plan struct {
	flexion  float64 // largest front knee flexion, deg
	offset   float64 // contact outside the hitting shoulder
	forward  float64 // contact in front of the hitting shoulder
	reach    float64 // share of the arm's and racket's full length used from shoulder to contact
	drop     float64 // hitting shoulder over the racket tip at its lowest
	rotation float64 // long-axis rotation of hitting arm and forearm at contact, deg/s
	speed    float64 // of the middle of the strings at contact, m/s
	ballOff  vec     // velocity of the ball after contact

	leap    float64 // upward speed of the centre of mass at takeoff
	advance float64 // its forward speed
	drift   float64 // its speed towards the hitting side

	startToRelease, releaseToTrophy, trophyToLow, lowToContact float64
	takeoffToContact                                           float64

	coil      float64 // how far the shoulders turn beyond the pelvis at trophy, deg
	bow       float64 // lean of the trunk away from the net at trophy, deg
	sideBend  float64 // lean of the trunk to the tossing side at contact, deg
	tossReach float64 // elevation of the tossing arm at trophy, deg
	tossBend  float64 // flexion of the tossing elbow at trophy, deg
	pinpoint  bool    // the back foot joins the front foot
	stance    float64 // distance between the feet, share of height
	place     vec     // tip of the front foot at the start
	rest      float64 // standing still before and after the movement
	heelRaise float64 // pitch of the back foot at trophy, deg
}

// times are the instants that a serve is built around, in seconds of its own clock.
type times struct {
	begin, release, trough, low, takeoff, contact, landing, finish, home, end float64
}

func (p *plan) times() times {
	var t times
	t.begin = p.rest
	t.release = t.begin + p.startToRelease
	t.trough = t.release + p.releaseToTrophy
	t.low = t.trough + p.trophyToLow
	t.contact = t.low + p.lowToContact
	t.takeoff = t.contact - p.takeoffToContact
	t.landing = t.takeoff + p.leap/(gravity/2) + 0.075
	t.finish = t.contact + 0.30
	t.home = t.contact + 1.15
	t.end = t.home + p.rest
	return t
}
