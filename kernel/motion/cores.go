package motion

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
	"time"
)

// everyServe calls, for each serve k of the season, the function of one of several workers, each of which belongs to
// one goroutine. It stops at the first error, and within a few serves when the season's context ends, and reports
// progress.
func (s Season) everyServe(newWorker func() func(k int) error) error {
	r := &round{ctx: s.ctx, progress: s.progress, total: s.Len()}
	var workers sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), (r.total+portion-1)/portion) {
		workers.Go(func() { r.work(newWorker()) })
	}
	workers.Wait()
	if r.err == nil && r.progress != nil {
		r.progress(r.total, r.total)
	}
	return r.err
}

// round is one run over the serves of a season. Workers take serves in portions.
type round struct {
	ctx      context.Context
	progress func(done, total int)
	total    int
	next     atomic.Int64
	done     atomic.Int64
	told     atomic.Int64 // when progress was last told, in nanoseconds since 1970
	fault    sync.Once
	err      error
	stopped  atomic.Bool
}

const (
	portion       = 8 // serves that a worker takes at a time
	progressEvery = 50 * time.Millisecond
)

func (r *round) work(do func(k int) error) {
	for !r.stopped.Load() {
		first := int(r.next.Add(portion)) - portion
		if first >= r.total {
			return
		}
		last := min(first+portion, r.total)
		for k := first; k < last; k++ {
			err := r.ctx.Err()
			if err == nil {
				err = do(k)
			}
			if err != nil {
				r.fail(err)
				return
			}
		}
		r.tell(last - first)
	}
}

func (r *round) fail(err error) {
	r.fault.Do(func() { r.err = err })
	r.stopped.Store(true)
}

// tell reports progress, but not more often than a reader can see.
func (r *round) tell(served int) {
	done := r.done.Add(int64(served))
	if r.progress == nil {
		return
	}
	now, last := time.Now().UnixNano(), r.told.Load()
	if now-last >= int64(progressEvery) && r.told.CompareAndSwap(last, now) {
		r.progress(int(done), r.total)
	}
}
