package supervisor

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os/exec"
	"sync"
	"time"

	"tossline/kernel/engine"
)

// process is one engine, from its start to its end.
type process struct {
	limits Limits
	log    *slog.Logger
	cmd    *exec.Cmd
	outbox chan engine.Frame
	stderr transcript

	ready chan engine.Ready // gives one value, when it waits for requests
	about engine.Ready      // that value, for those who got the process from waitReady

	wake   chan struct{} // tells the watch that a call begins
	gone   chan struct{} // closed after its end; what follows is set before
	ending *Ending

	endedIdle bool // it had nothing to do, and nobody ended it

	mu      sync.Mutex // guards what follows
	calls   map[uint64]*call
	lastID  uint64
	idle    time.Time // when the last call ended
	refusal string    // why it will not be ready
	killed  string    // why it was ended from here, for the reader
	quiet   bool      // it was ended from here, and nobody need be told
}

// call is a request under way.
type call struct {
	answers chan engine.Frame
	over    chan struct{} // closed when nobody listens any more
}

func newProcess(cmd *exec.Cmd, limits Limits, log *slog.Logger) *process {
	return &process{
		limits: limits, log: log, cmd: cmd,
		outbox: make(chan engine.Frame, 16),
		ready:  make(chan engine.Ready, 1),
		wake:   make(chan struct{}, 1),
		gone:   make(chan struct{}),
		calls:  map[uint64]*call{},
	}
}

// write sends what is put into the outbox. An engine whose pipe is broken has ended or soon will.
func (p *process) write(in io.WriteCloser) {
	defer in.Close()
	w := engine.NewWriter(in)
	for {
		select {
		case f := <-p.outbox:
			if err := w.Write(f); err != nil {
				p.log.Debug("engine pipe", "error", err)
				return
			}
		case <-p.gone:
			return
		}
	}
}

// read hands every frame to the call that it answers, until the pipe ends, and then sees the process off.
func (p *process) read(out io.Reader) {
	r := engine.NewReader(out, engine.MaxAnswer)
	for {
		f, err := r.Read()
		if err == io.EOF {
			break
		}
		if err == nil {
			err = p.deliver(f)
		}
		if err != nil {
			p.end("sent something that is no message: " + err.Error())
			break
		}
	}
	late := time.AfterFunc(exitTime, func() { p.end("stopped") }) // no use without its pipe, even where it lives on
	p.ending = p.autopsy(p.cmd.Wait())
	late.Stop()
	close(p.gone)
}

// deliver hands one frame on. Frames for a call that is over are dropped.
func (p *process) deliver(f engine.Frame) error {
	switch f.Kind {
	case engine.KindReady:
		var about engine.Ready
		if err := json.Unmarshal(f.Body, &about); err != nil {
			return err
		}
		select {
		case p.ready <- about:
		default: // said it already
		}
		return nil
	case engine.KindRefused:
		p.mu.Lock()
		defer p.mu.Unlock()
		return json.Unmarshal(f.Body, &p.refusal)
	}
	p.mu.Lock()
	c := p.calls[f.ID]
	p.mu.Unlock()
	if c == nil {
		return nil
	}
	select {
	case c.answers <- f:
	case <-c.over:
	}
	return nil
}

// waitReady waits until the engine has opened the season and raised its fence.
func (p *process) waitReady(ctx context.Context) error {
	late := time.NewTimer(startTime)
	defer late.Stop()
	select {
	case p.about = <-p.ready:
		return nil
	case <-p.gone:
		return p.ending
	case <-late.C:
		p.end("did not get ready within " + startTime.String())
	case <-ctx.Done():
		p.dismiss()
	}
	<-p.gone
	return p.ending
}

// startTime is what opening a season may take. A large one on a slow disk takes a second or two.
const startTime = 30 * time.Second

// exitTime is what an engine may take from the end of its pipe to its own.
const exitTime = 300 * time.Millisecond

// alive tells whether the process has not ended yet.
func (p *process) alive() bool {
	select {
	case <-p.gone:
		return false
	default:
		return true
	}
}

// end kills the process at once; why is for the reader. The first reason stands.
func (p *process) end(why string) {
	p.mu.Lock()
	p.killed = cmp.Or(p.killed, why)
	p.mu.Unlock()
	kill(p.cmd.Process)
}

// dismiss kills a process that is of no use any more.
func (p *process) dismiss() {
	p.mu.Lock()
	p.quiet = true
	p.mu.Unlock()
	kill(p.cmd.Process)
}

// begin registers a call and sends its request.
func (p *process) begin(ctx context.Context, kind engine.Kind, body any) (uint64, *call, error) {
	c := &call{answers: make(chan engine.Frame, 64), over: make(chan struct{})}
	p.mu.Lock()
	p.lastID++
	id := p.lastID
	p.calls[id] = c
	p.mu.Unlock()
	f, err := engine.NewFrame(kind, id, body)
	if err != nil {
		p.finish(id, c)
		return 0, nil, err
	}
	select {
	case p.wake <- struct{}{}:
	default:
	}
	select {
	case p.outbox <- f:
		return id, c, nil
	case <-p.gone:
		err = p.ending
	case <-ctx.Done():
		err = context.Cause(ctx)
	}
	p.finish(id, c)
	return 0, nil, err
}

func (p *process) finish(id uint64, c *call) {
	p.mu.Lock()
	defer p.mu.Unlock()
	delete(p.calls, id)
	close(c.over)
	p.idle = time.Now()
}

// listener is told of the answers to a request. It says how long the engine may now be silent, 0 for as long as
// before; an error says that the answer makes no sense, and ends the engine.
type listener func(engine.Frame) (patience time.Duration, err error)

// ask makes a request and hands each answer to hear, until the last one. A request whose ctx ends is cancelled in the
// engine; where that has no effect within the grace, and where patience runs out, the engine is ended. The error is
// the cause of ctx, an *Ending, or a sentence of the engine's own.
func (p *process) ask(ctx context.Context, kind engine.Kind, body any, patience time.Duration, hear listener) error {
	id, c, err := p.begin(ctx, kind, body)
	if err != nil {
		return err
	}
	defer p.finish(id, c)
	clock := time.NewTimer(patience)
	defer clock.Stop()
	for {
		select {
		case f := <-c.answers:
			if f.Kind == engine.KindDone {
				return outcome(f)
			}
			more, err := hear(f)
			if err != nil {
				p.end("sent an answer that makes no sense: " + err.Error())
				<-p.gone
				return p.ending
			}
			patience = cmp.Or(more, patience)
			clock.Reset(patience)
		case <-p.gone:
			return p.lastWords(c, hear)
		case <-ctx.Done():
			p.stop(id, c)
			return context.Cause(ctx)
		case <-clock.C:
			p.end(fmt.Sprintf("gave no sign of life for %v", patience))
			<-p.gone
			return p.ending
		}
	}
}

// outcome is what the last answer says.
func outcome(f engine.Frame) error {
	var done engine.Done
	if err := json.Unmarshal(f.Body, &done); err != nil {
		return err
	}
	if done.Error != "" {
		return errors.New(done.Error)
	}
	return nil
}

// lastWords hears what the engine said before its end and nobody had listened to yet.
func (p *process) lastWords(c *call, hear listener) error {
	for {
		select {
		case f := <-c.answers:
			if f.Kind == engine.KindDone {
				return outcome(f)
			}
			if _, err := hear(f); err != nil {
				return p.ending
			}
		default:
			return p.ending
		}
	}
}

// stop cancels a request and waits until it is over; what it still says is dropped, since what is half done is worth
// nothing. An engine that doesn't stop within the grace is ended.
func (p *process) stop(id uint64, c *call) {
	grace := time.NewTimer(p.limits.Grace)
	defer grace.Stop()
	cancel := p.outbox // an engine that takes nothing any more is ended after the grace, too
	for {
		select {
		case cancel <- engine.Frame{Kind: engine.KindCancel, ID: id}:
			cancel = nil
		case f := <-c.answers:
			if f.Kind == engine.KindDone {
				return
			}
		case <-p.gone:
			return
		case <-grace.C:
			p.dismiss()
		}
	}
}
