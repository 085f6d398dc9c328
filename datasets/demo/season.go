package demo

import (
	"context"
	"runtime"
	"slices"
)

// DefaultSeed is the seed of the season that the program makes at its first start.
const DefaultSeed = 1908

// Players lists everybody of the academy, in the order of the roster.
func Players() []Player {
	var out []Player
	for _, m := range academy() {
		out = append(out, m.Player)
	}
	return out
}

// Takes is the number of takes that Generate makes.
func Takes() int { return len(schedule(0)) }

// Generate makes the season of a seed and hands every take to save, by session and then by player; never two at
// once. It works ahead on all processors, a few takes at a time, and stops at the first error of save or when ctx
// ends.
func Generate(ctx context.Context, seed uint64, save func(Take) error) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	made := make(chan chan Take, 2*runtime.GOMAXPROCS(0))
	go func() {
		defer close(made)
		for _, c := range schedule(seed) {
			one := make(chan Take, 1)
			select {
			case made <- one: // its capacity bounds the takes at work
				go func() { one <- c.make() }()
			case <-ctx.Done():
				return
			}
		}
	}()
	for one := range made {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := save(<-one); err != nil {
			return err
		}
	}
	return ctx.Err()
}

// schedule says who serves how often on which day, and which recordings go wrong.
func schedule(seed uint64) []session {
	var out []session
	members := academy()
	for day := range sessions {
		for i := range members {
			m := &members[i]
			if slices.Contains(m.away, day) {
				continue
			}
			c := session{member: m, seed: seed, number: uint64(day*len(members) + i), day: day, serves: m.share(day)}
			c.noRacket = m.Name == "Theo Marsh" && day == 3
			c.early = m.Name == "Oskar Lind" && day == 2 || m.Name == "Ines Dahl" && day == 8
			c.late = m.Name == "Marek Vole" && day == 10
			if c.early || c.late {
				c.serves++ // the serve that is cut off comes on top
			}
			out = append(out, c)
		}
	}
	return out
}

// share is how many of the season's serves fall on a day: as even as whole numbers allow.
func (m *member) share(day int) int {
	present, before := 0, 0
	for d := range sessions {
		if slices.Contains(m.away, d) {
			continue
		}
		if d < day {
			before++
		}
		present++
	}
	return m.serves*(before+1)/present - m.serves*before/present
}
