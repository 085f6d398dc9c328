package demo

import (
	"math"
	"math/rand/v2"

	"tossline/kernel/motion"
)

// academyName is what the invented academy is called.
const academyName = "Harbour Lane"

// Player is one of the invented players.
type Player struct {
	Name      string      `json:"name"`
	Hand      motion.Hand `json:"hand"`
	HeightM   float64     `json:"height_m"`
	BirthYear int         `json:"birth_year"`
	Level     string      `json:"level"`
}

// sessions are the days on which the academy recorded.
var sessions = []string{
	"2026-02-07", "2026-02-28", "2026-03-14", "2026-04-11", "2026-04-25", "2026-05-09",
	"2026-05-30", "2026-06-20", "2026-07-11", "2026-08-01", "2026-08-29", "2026-09-19",
}

// member is a player with a way of serving: the mean of each planned quantity, how steady it is from serve to serve,
// and what the season changes in it.
type member struct {
	Player
	racket float64
	serves int   // over the season
	away   []int // sessions missed
	usual  plan
	steady float64                    // spread from serve to serve, 1 for a practised adult
	change func(session int, p *plan) // what the season does to the usual serve
}

// withinSlope is how much slower the long-axis rotation is for each metre that a player meets the ball farther
// outside than usual, deg/s.
const withinSlope = -3100

// academy is everybody, in the order of the roster.
func academy() []member {
	return []member{
		{
			Player: Player{"Ines Dahl", motion.HandLeft, 1.71, 2010, "national junior"}, racket: 0.685, serves: 119,
			usual: youth(plan{flexion: 66, offset: 0.035, forward: 0.30, drop: 0.40, rotation: 1690, speed: 32.5,
				leap: 1.45, coil: 22, bow: 17, sideBend: 32, tossReach: 160, tossBend: 8}, false),
			steady: 1.15, away: []int{4},
		},
		{
			Player: Player{"Marek Vole", motion.HandRight, 1.83, 2009, "national junior"}, racket: 0.685, serves: 136,
			usual: youth(plan{flexion: 72, offset: 0.055, forward: 0.34, drop: 0.45, rotation: 1930, speed: 35.5,
				leap: 1.65, coil: 27, bow: 18, sideBend: 34, tossReach: 157, tossBend: 10}, true),
			steady: 1.1,
		},
		{
			Player: Player{"Tuva Brandt", motion.HandRight, 1.54, 2014, "regional junior"}, racket: 0.66, serves: 130,
			usual: junior(plan{flexion: 53, offset: -0.045, forward: 0.25, drop: 0.31, rotation: 1270, speed: 24.5,
				leap: 1.0, coil: 16, bow: 12, sideBend: 25, tossReach: 148, tossBend: 18}, true),
			steady: 1.4,
			change: func(session int, p *plan) { p.offset += float64(0.013 * float64(session)) },
		},
		{
			Player: Player{"Oskar Lind", motion.HandRight, 1.66, 2012, "regional junior"}, racket: 0.685, serves: 146,
			usual: junior(plan{flexion: 49, offset: 0.005, forward: 0.28, drop: 0.36, rotation: 1480, speed: 28,
				leap: 1.15, coil: 19, bow: 14, sideBend: 28, tossReach: 152, tossBend: 12}, false),
			steady: 1.3,
			change: legBlock,
		},
		{
			Player: Player{"Noor Salim", motion.HandRight, 1.47, 2015, "club"}, racket: 0.66, serves: 110,
			usual: junior(plan{flexion: 51, offset: -0.065, forward: 0.23, drop: 0.28, rotation: 1150, speed: 22.5,
				leap: 0.9, coil: 14, bow: 11, sideBend: 23, tossReach: 145, tossBend: 22}, false),
			steady: 1.5, away: []int{7},
		},
		{
			Player: Player{"Jonas Petri", motion.HandRight, 1.88, 2007, "professional"}, racket: 0.685, serves: 132,
			usual: adult(plan{flexion: 69, offset: 0.085, forward: 0.36, drop: 0.49, rotation: 2180, speed: 38.5,
				leap: 1.75, coil: 28, bow: 19, sideBend: 35, tossReach: 163, tossBend: 5}, false),
			steady: 0.9,
		},
		{
			Player: Player{"Alma Reuss", motion.HandLeft, 1.60, 2013, "regional junior"}, racket: 0.685, serves: 136,
			usual: junior(plan{flexion: 57, offset: -0.02, forward: 0.26, drop: 0.34, rotation: 1390, speed: 26.5,
				leap: 1.1, coil: 18, bow: 15, sideBend: 27, tossReach: 155, tossBend: 9}, true),
			steady: 1.25,
		},
		{
			Player: Player{"Theo Marsh", motion.HandRight, 1.85, 2004, "professional"}, racket: 0.685, serves: 103,
			usual: adult(plan{flexion: 75, offset: 0.11, forward: 0.38, drop: 0.50, rotation: 2330, speed: 40,
				leap: 1.8, coil: 30, bow: 20, sideBend: 36, tossReach: 161, tossBend: 6}, true),
			steady: 0.85, away: []int{1, 5, 9},
		},
	}
}

// legBlock is what the leg work between 11 May and 19 June does: half of it shows at the session on 30 May.
func legBlock(session int, p *plan) {
	share := 0.0
	switch {
	case session >= 7:
		share = 1
	case session == 6:
		share = 0.5
	}
	p.flexion += float64(14 * share)
	p.leap += float64(0.12 * share)
}

// junior, youth and adult complete a plan with what goes with age.
func junior(p plan, pinpoint bool) plan {
	return complete(p, pinpoint, plan{startToRelease: 0.66, releaseToTrophy: 0.47, trophyToLow: 0.225,
		lowToContact: 0.115, takeoffToContact: 0.06, advance: 0.6, drift: -0.06, heelRaise: 20, reach: 0.915})
}

func youth(p plan, pinpoint bool) plan {
	return complete(p, pinpoint, plan{startToRelease: 0.64, releaseToTrophy: 0.49, trophyToLow: 0.22,
		lowToContact: 0.108, takeoffToContact: 0.078, advance: 0.8, drift: -0.09, heelRaise: 26, reach: 0.92})
}

func adult(p plan, pinpoint bool) plan {
	return complete(p, pinpoint, plan{startToRelease: 0.62, releaseToTrophy: 0.50, trophyToLow: 0.22,
		lowToContact: 0.104, takeoffToContact: 0.085, advance: 0.95, drift: -0.12, heelRaise: 29, reach: 0.925})
}

func complete(p plan, pinpoint bool, age plan) plan {
	age.flexion, age.offset, age.forward, age.drop = p.flexion, p.offset, p.forward, p.drop
	age.rotation, age.speed, age.leap = p.rotation, p.speed, p.leap
	age.coil, age.bow, age.sideBend = p.coil, p.bow, p.sideBend
	age.tossReach, age.tossBend, age.pinpoint = p.tossReach, p.tossBend, pinpoint
	age.stance, age.rest = 0.30, 0.18
	if pinpoint {
		age.stance = 0.27
	}
	return age
}

// dice draws the numbers of one part of one take; every part has its own, so that a change in one leaves the others.
type dice struct{ *rand.Rand }

func newDice(seed, take, part uint64) dice { return dice{rand.New(rand.NewPCG(seed, take<<8|part))} }

// normal is a draw with mean 0 and standard deviation 1: the sum of four evenly spread numbers, which is close to
// a normal one up to 3.4 deviations and, unlike the logarithms of other ways, the same on every machine.
func (d dice) normal() float64 {
	u := d.Uint64()
	sum := int64(u&0xffff) + int64(u>>16&0xffff) + int64(u>>32&0xffff) + int64(u>>48)
	return float64(sum-2*0xffff) * (1.7320508075688772 / 0xffff)
}

// shallowest is the least flexion of the front knee: with less, the knee would bend most when the heel rises.
const shallowest = 44

// draw makes the plan of one serve: the player's usual serve, changed by the season, the day and chance.
func (m *member) draw(usual, day plan, d dice) plan {
	p := usual
	w := m.steady
	vary := func(x *float64, day, spread float64) { *x += day + float64(spread*w)*d.normal() }
	vary(&p.flexion, day.flexion, 2.6)
	vary(&p.offset, day.offset, 0.038)
	vary(&p.forward, day.forward, 0.035)
	vary(&p.drop, day.drop, 0.018)
	vary(&p.reach, 0, 0.004)
	vary(&p.speed, day.speed, 0.7)
	vary(&p.leap, 0, 0.05)
	vary(&p.advance, 0, 0.06)
	vary(&p.drift, 0, 0.05)
	vary(&p.coil, day.coil, 1.8)
	vary(&p.bow, day.bow, 1.5)
	vary(&p.sideBend, day.sideBend, 1.6)
	vary(&p.tossReach, 0, 3)
	vary(&p.tossBend, 0, 2)
	vary(&p.heelRaise, 0, 2)
	vary(&p.startToRelease, 0, 0.018)
	vary(&p.releaseToTrophy, 0, 0.014)
	vary(&p.trophyToLow, 0, 0.006)
	vary(&p.lowToContact, 0, 0.002)
	p.flexion = math.Max(shallowest, p.flexion)
	p.tossBend = math.Max(2, p.tossBend)
	p.rotation += day.rotation + float64(withinSlope*(p.offset-m.usual.offset)) + float64(115*w)*d.normal()
	return p
}

// drawDay makes what a day adds to every serve of a player.
func (m *member) drawDay(d dice) plan {
	w := m.steady
	spread := func(sd float64) float64 { return float64(sd*w) * d.normal() }
	return plan{flexion: spread(1.3), offset: spread(0.012), forward: spread(0.012), drop: spread(0.008),
		rotation: spread(35), speed: spread(0.35), coil: spread(1), bow: spread(0.8), sideBend: spread(0.8)}
}
