// Package fence shuts the process it runs in off from everything but the descriptors it already holds.
//
// Raise is called once, after everything that will ever be needed has been opened and mapped. What comes after it may
// be hostile: recipes, and files from elsewhere. Each system offers something else, so Raise never fails; it reports
// what holds, and the reader is told.
//
//	Linux          memory limit; no files, sockets, processes or signals, by Landlock and by a list of allowed
//	               system calls, each of which would do alone for most of it
//	macOS          no new descriptors, hence no files and sockets; no file grows; no new processes
//	Windows        memory limit; no new processes
//	elsewhere      the process boundary alone
//
// Everywhere: a stack limit far below Go's own, a target for the garbage collector, and Watch, which ends the process
// when its memory passes the limit.
package fence

import (
	"os"
	"runtime/debug"
	"runtime/metrics"
	"strings"
	"time"
)

// Limits of a fenced process. The zero value stands for the defaults, save Write, where zero means that no file grows.
type Limits struct {
	Data  int64 // bytes of writable memory; 1 GiB
	Stack int   // bytes of one goroutine's stack; 64 MiB
	Write int64 // bytes to which an already open file may grow
}

// The defaults.
const (
	defaultData  = 1 << 30
	defaultStack = 64 << 20
)

// ExitMemory is the exit status of a process that Watch ended.
const ExitMemory = 86

// Report says what holds. It travels to the page.
type Report struct {
	Files     bool     `json:"files"`     // no file can be opened
	Network   bool     `json:"network"`   // no socket can be opened
	Processes bool     `json:"processes"` // nothing can be started or signalled
	Memory    bool     `json:"memory"`    // the system itself bounds the memory
	Gaps      []string `json:"gaps,omitempty"`
}

// Sentence tells a reader what holds.
func (r Report) Sentence() string {
	var shut []string
	for _, part := range []struct {
		holds bool
		name  string
	}{{r.Files, "files"}, {r.Network, "network"}, {r.Processes, "other programs"}} {
		if part.holds {
			shut = append(shut, part.name)
		}
	}
	if len(shut) == 0 {
		return "Recipes run in a process of their own; this system offers nothing to shut it off further."
	}
	memory := ""
	if r.Memory {
		memory = ", with limited memory"
	}
	return "Recipes run in a process of their own, shut off from " + list(shut) + memory + "."
}

// list joins names as in "a, b and c".
func list(names []string) string {
	last := len(names) - 1
	if last == 0 {
		return names[0]
	}
	return strings.Join(names[:last], ", ") + " and " + names[last]
}

// Raise shuts the process off, on all its threads, for ever.
func Raise(l Limits) Report {
	l = l.orDefaults()
	debug.SetMaxStack(l.Stack)
	debug.SetMemoryLimit(l.Data / 4 * 3)
	r := raise(l)
	if raceDetector {
		r.Memory = false
		r.Gaps = append(r.Gaps, "built with the race detector: no memory limit by the system")
	}
	return r
}

func (l Limits) orDefaults() Limits {
	if l.Data == 0 {
		l.Data = defaultData
	}
	if l.Stack == 0 {
		l.Stack = defaultStack
	}
	return l
}

// Watch ends the process with ExitMemory when Go's memory passes the limit: the answer where the system has none, and
// a cleaner end than the system's where it has one. It returns at once and watches until the process ends.
func Watch(l Limits) {
	l = l.orDefaults()
	go func() {
		for range time.Tick(20 * time.Millisecond) {
			if memory() > uint64(l.Data) {
				os.Exit(ExitMemory)
			}
		}
	}()
}

// memory is what the Go runtime holds of the system, in bytes, less what it gave back.
func memory() uint64 {
	s := []metrics.Sample{
		{Name: "/memory/classes/total:bytes"},
		{Name: "/memory/classes/heap/released:bytes"},
	}
	metrics.Read(s)
	return s[0].Value.Uint64() - s[1].Value.Uint64()
}
