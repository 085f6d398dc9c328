package supervisor

import (
	"fmt"
	"log/slog"
	"os/exec"
	"runtime"
	"time"

	"tossline/kernel/engine"
)

// launcher starts processes from one thread that lives as long as it does: Linux tells a child of the end of the
// thread that started it, not of the process.
type launcher struct {
	work   chan func()
	closed chan struct{}
}

func newLauncher() *launcher {
	l := &launcher{work: make(chan func()), closed: make(chan struct{})}
	go func() {
		runtime.LockOSThread()
		for {
			select {
			case f := <-l.work:
				f()
			case <-l.closed:
				return
			}
		}
	}()
	return l
}

// close ends the thread, and with it, on Linux, every process that it started.
func (l *launcher) close() { close(l.closed) }

// start starts an engine and sends it first. Nothing of this process is inherited: no environment, no descriptor but
// three pipes, the root as working folder, and a process group of its own.
func (l *launcher) start(command []string, first engine.Frame, limits Limits, log *slog.Logger) (*process, error) {
	p := newProcess(exec.Command(command[0], command[1:]...), limits, log)
	p.cmd.Env = []string{}
	p.cmd.Dir = "/"
	p.cmd.Stderr = &p.stderr
	p.cmd.WaitDelay = time.Second
	p.cmd.SysProcAttr = attributes()
	in, err := p.cmd.StdinPipe()
	if err != nil {
		return nil, err
	}
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	started := make(chan error, 1)
	select {
	case l.work <- func() { started <- p.cmd.Start() }:
	case <-l.closed:
		return nil, ErrClosed
	}
	if err := <-started; err != nil {
		return nil, fmt.Errorf("the engine cannot be started: %w", err)
	}
	p.outbox <- first
	go p.write(in)
	go p.read(out)
	go p.watch()
	return p, nil
}
