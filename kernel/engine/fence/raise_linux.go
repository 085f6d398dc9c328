package fence

import (
	"runtime"
	"slices"
	"strings"

	"github.com/elastic/go-seccomp-bpf"
	"github.com/elastic/go-seccomp-bpf/arch"
	"github.com/landlock-lsm/go-landlock/landlock"
	"golang.org/x/sys/unix"
)

// raise sets the limits first and the list of system calls last, since each layer forbids setting up the next.
func raise(l Limits) Report {
	var r Report
	setLimits(l, &r)
	landlocked := landlock.V9.BestEffort().Restrict()
	if landlocked != nil {
		r.Gaps = append(r.Gaps, "Landlock: "+landlocked.Error())
	}
	if err := filterCalls(); err != nil {
		r.Gaps = append(r.Gaps, "seccomp: "+err.Error())
		r.Files = landlocked == nil && landlockInForce() // network and processes are only partly covered by it
		return r
	}
	r.Files, r.Network, r.Processes = true, true, true
	return r
}

// setLimits bounds data rather than address space: a Go program reserves more than a GiB of addresses at its start. The
// bound lies above that of Watch, whose end is the cleaner one: without memory the collector may crash and not say why.
func setLimits(l Limits, r *Report) {
	limits := []struct {
		name  string
		which int
		value int64
	}{
		{"core", unix.RLIMIT_CORE, 0},
		{"file size", unix.RLIMIT_FSIZE, l.Write},
		{"data", unix.RLIMIT_DATA, l.Data + l.Data/4},
	}
	for _, x := range limits {
		if x.which == unix.RLIMIT_DATA && raceDetector {
			continue
		}
		err := unix.Setrlimit(x.which, &unix.Rlimit{Cur: uint64(x.value), Max: uint64(x.value)})
		if err != nil {
			r.Gaps = append(r.Gaps, x.name+" limit: "+err.Error())
		} else if x.which == unix.RLIMIT_DATA {
			r.Memory = true
		}
	}
}

// landlockInForce tells whether the kernel has Landlock at all; best effort is silent about its absence.
func landlockInForce() bool {
	_, _, errno := unix.Syscall(unix.SYS_LANDLOCK_CREATE_RULESET, 0, 0, unix.LANDLOCK_CREATE_RULESET_VERSION)
	return errno == 0
}

// allowed are the system calls that the Go runtime, and the C library's threads under the race detector, need to
// compute, wait and use the descriptors they have. None opens, starts or addresses anything.
var allowed = strings.Fields(`
	read write readv writev pread64 pwrite64 sync_file_range close fstat lseek
	munmap madvise mincore mremap brk futex
	rt_sigaction rt_sigprocmask rt_sigreturn sigaltstack restart_syscall
	nanosleep clock_nanosleep clock_gettime clock_getres gettimeofday sched_yield sched_getaffinity
	gettid getpid exit exit_group getrandom rseq set_robust_list getrusage
	epoll_create1 epoll_ctl epoll_pwait epoll_pwait2 epoll_wait eventfd2 pipe2 poll ppoll`)

// filterCalls lets the allowed calls through and answers all others with an error. clone3 must answer that it doesn't
// exist: the C library then falls back on clone, whose flags can be examined.
func filterCalls() error {
	info, err := arch.GetInfo("")
	if err != nil {
		return err
	}
	known := slices.DeleteFunc(slices.Clone(allowed), func(name string) bool {
		_, ok := info.SyscallNames[name]
		return !ok // such as epoll_wait and poll on arm64
	})
	none := seccomp.ActionErrno | seccomp.Action(unix.ENOSYS)
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	return seccomp.LoadFilter(seccomp.Filter{
		NoNewPrivs: true,
		Flag:       seccomp.FilterFlagTSync,
		Policy: seccomp.Policy{DefaultAction: seccomp.ActionErrno, Syscalls: []seccomp.SyscallGroup{
			{Action: none, Names: []string{"clone3"}},
			{Action: seccomp.ActionAllow, Names: known, NamesWithCondtions: conditional()},
		}},
	})
}

// conditional are the calls that are harmless with some arguments only: threads but no processes, no memory that can
// be executed, signals to this process, and only fcntl's plain commands (F_DUPFD to F_SETFL).
func conditional() []seccomp.NameWithConditions {
	when := func(name string, argument uint32, op seccomp.Operation, value uint64) seccomp.NameWithConditions {
		return seccomp.NameWithConditions{Name: name, Conditions: seccomp.ArgumentConditions{
			{Argument: argument, Operation: op, Value: value},
		}}
	}
	return []seccomp.NameWithConditions{
		when("clone", 0, seccomp.BitsSet, unix.CLONE_THREAD),
		when("mmap", 2, seccomp.BitsNotSet, unix.PROT_EXEC),
		when("mprotect", 2, seccomp.BitsNotSet, unix.PROT_EXEC),
		when("tgkill", 0, seccomp.Equal, uint64(unix.Getpid())),
		when("fcntl", 1, seccomp.LessOrEqual, unix.F_SETFL),
	}
}
