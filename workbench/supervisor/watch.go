package supervisor

import "time"

// How often an engine with something to do is looked at, and what it may take after its work is done: the collector
// needs a moment, then a second must pass in which it takes less than half of one processor.
const (
	watchEvery = 20 * time.Millisecond
	settle     = 500 * time.Millisecond
	quietFor   = time.Second
	quietMost  = quietFor / 2
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
	var before time.Duration // processor time when it had settled
	settled := false
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
		switch idle := p.idleFor(); {
		case idle < settle:
			settled = false
		case !settled:
			settled, before = true, processor
		case idle > settle+quietFor:
			if processor-before > quietMost {
				p.end("went on computing after its work was done")
			}
			return
		}
	}
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
