//go:build !linux

package supervisor

import (
	"os"
	"syscall"
	"time"
)

// attributes has nothing portable to ask for: the child ends when its standard input does.
func attributes() *syscall.SysProcAttr { return nil }

// kill ends the process.
func kill(p *os.Process) {
	if p != nil {
		p.Kill()
	}
}

// used is not known here: the engine watches its own memory.
func used(*os.Process) (memory int64, processor time.Duration, ok bool) { return 0, 0, false }
