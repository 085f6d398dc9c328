package supervisor

import "time"

// How often an engine with something to do is looked at, and what it may take after its work is done: the collector
// needs a moment, then it may take settledMost of processor time until a second passes in which it takes next to none.
// On a busy machine that takes longer.
const (
	watchEvery  = 20 * time.Millisecond
	settle      = 500 * time.Millisecond
	settledMost = 500 * time.Millisecond
	quietFor    = time.Second
	quietMost   = quietFor / 20
)

// watch looks at the process while it works and a little longer. It ends one that takes too much memory, the second
// line after the limit that the system keeps, and one that goes on computing after its work is done.
func (p *process) watch() {
	tick := time.NewTicker(watchEvery)
	defer tick.Stop()
	for {
		tick.Stop()
		select {
		case <-p.wake:
		case <-p.gone:
			return
		}
		tick.Reset(watchEvery)
		p.watchWork(tick.C)
	}
}

// watchWork watches until the work has been done for long enough.
func (p *process) watchWork(tick <-chan time.Time) {
	var quiet *silence
	for {
		select {
		case <-tick:
		case <-p.gone:
			return
		}
		memory, processor, ok := used(p.cmd.Process)
		if !ok {
			return
		}
		if memory > p.limits.Memory+p.limits.Memory/2 {
			p.end("took too much memory")
			return
		}
		idle := p.idleFor()
		switch {
		case idle < settle:
			quiet = nil
		case quiet == nil:
			quiet = &silence{before: processor, lately: processor, since: idle}
		case processor-quiet.before > settledMost:
			p.end("went on computing after its work was done")
			return
		case idle-quiet.since > quietFor:
			if processor-quiet.lately < quietMost {
				return
			}
			quiet.lately, quiet.since = processor, idle
		}
	}
}

// silence is what an engine that has nothing to do takes all the same.
type silence struct {
	before time.Duration // processor time when its work was over and had settled
	lately time.Duration // processor time at since
	since  time.Duration // how long it had had nothing to do when the last second began
}

// idleFor is how long there has been nothing to do, 0 while there is.
func (p *process) idleFor() time.Duration {
	p.mu.Lock()
	defer p.mu.Unlock()
	if len(p.calls) > 0 {
		return 0
	}
	return time.Since(p.idle)
}
