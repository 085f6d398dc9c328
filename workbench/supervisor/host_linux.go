package supervisor

import (
	"bytes"
	"os"
	"strconv"
	"syscall"
	"time"
)

// attributes puts the child into a process group of its own, and ends it with the thread that started it.
func attributes() *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL}
}

// kill ends the process and whatever it might have started.
func kill(p *os.Process) {
	if p == nil {
		return
	}
	syscall.Kill(-p.Pid, syscall.SIGKILL)
	p.Kill() // where it has no group yet
}

// used is the memory of a process's own, not counting mapped files, and the processor time that it has taken.
func used(p *os.Process) (memory int64, processor time.Duration, ok bool) {
	folder := "/proc/" + strconv.Itoa(p.Pid)
	statm, err := os.ReadFile(folder + "/statm")
	if err != nil {
		return 0, 0, false
	}
	stat, err := os.ReadFile(folder + "/stat")
	if err != nil {
		return 0, 0, false
	}
	pages := bytes.Fields(statm) // size, resident, shared, ...
	_, after, found := bytes.Cut(stat, []byte(") "))
	fields := bytes.Fields(after) // state is field 3 of proc(5), utime 14, stime 15
	if len(pages) < 3 || !found || len(fields) < 13 {
		return 0, 0, false
	}
	ticks := number(fields[11]) + number(fields[12])
	const ticksPerSecond = 100 // USER_HZ, the same on every Linux that Go runs on
	return (number(pages[1]) - number(pages[2])) * int64(os.Getpagesize()),
		time.Duration(ticks) * time.Second / ticksPerSecond, true
}

func number(text []byte) int64 {
	n, err := strconv.ParseInt(string(text), 10, 64)
	if err != nil {
		return 0
	}
	return n
}
