package command

import (
	"fmt"
	"io"
	"os"
	"sync"
	"time"
)

// progressLine is one line of a terminal that tells how far something is. It is silent where nobody watches.
type progressLine struct {
	out  io.Writer
	what string

	mu    sync.Mutex
	shown time.Time
}

// newProgressLine starts a line on out, if that is a terminal.
func newProgressLine(out io.Writer, what string) *progressLine {
	f, ok := out.(*os.File)
	if !ok {
		return &progressLine{}
	}
	if info, err := f.Stat(); err != nil || info.Mode()&os.ModeCharDevice == 0 {
		return &progressLine{}
	}
	return &progressLine{out: out, what: what}
}

func (p *progressLine) show(done, total int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.out == nil || total <= 0 || time.Since(p.shown) < 100*time.Millisecond {
		return
	}
	p.shown = time.Now()
	fmt.Fprintf(p.out, "\r%s: %d %%\x1b[K", p.what, 100*done/total)
}

// end wipes the line.
func (p *progressLine) end() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.out != nil && !p.shown.IsZero() {
		fmt.Fprint(p.out, "\r\x1b[K")
	}
}
