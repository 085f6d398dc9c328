package fence

import (
	"context"
	"encoding/json"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"strings"
	"syscall"
	"testing"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"
)

// The test binary starts itself anew, raises the fence and reports what each probe met.
const (
	probeEnv = "FENCE_PROBE"
	tcpEnv   = "FENCE_TCP"
	jailEnv  = "FENCE_JAIL"
)

func TestMain(m *testing.M) {
	switch os.Getenv(probeEnv) {
	case "probes":
		reportProbes()
	case "memory":
		Raise(Limits{Data: 256 << 20})
		eat()
	case "watch":
		Watch(Limits{Data: 128 << 20})
		eat()
	case "stack":
		Raise(Limits{})
		recurse(0)
	default:
		os.Exit(m.Run())
	}
}

// outcome is what the child found: the report, and the error of each probe, "" where it got through.
type outcome struct {
	Report Report
	Probes map[string]string
	Works  string
}

func reportProbes() {
	jail, tcp := os.Getenv(jailEnv), os.Getenv(tcpEnv)
	open, _ := os.OpenFile(filepath.Join(jail, "open"), os.O_RDWR, 0)
	out := outcome{Report: Raise(Limits{}), Probes: map[string]string{}}
	for name, probe := range probes(jail, tcp, open) {
		out.Probes[name] = "" // allowed
		if err := probe(); err != nil {
			out.Probes[name] = err.Error()
		}
	}
	out.Works = runtimeWorks()
	json.NewEncoder(os.Stdout).Encode(out)
}

// probes are the ways out; not one may succeed.
func probes(jail, tcp string, open *os.File) map[string]func() error {
	file := filepath.Join(jail, "file")
	dial := func(network, address string, mptcp bool) func() error {
		return func() error {
			d := net.Dialer{Timeout: time.Second}
			d.SetMultipathTCP(mptcp)
			c, err := d.Dial(network, address)
			if err == nil {
				c.Close()
			}
			return err
		}
	}
	listen := func(mptcp bool) func() error {
		return func() error {
			var lc net.ListenConfig
			lc.SetMultipathTCP(mptcp)
			l, err := lc.Listen(context.Background(), "tcp", "127.0.0.1:0")
			if err == nil {
				l.Close()
			}
			return err
		}
	}
	parent := os.Getppid()
	return map[string]func() error{
		"read a file":          func() error { _, err := os.ReadFile("/etc/hostname"); return err },
		"read the environment": func() error { _, err := os.ReadFile("/proc/self/environ"); return err },
		"list a folder":        func() error { _, err := os.ReadDir("/"); return err },
		"stat a file":          func() error { _, err := os.Stat("/etc/passwd"); return err },
		"write a file":         func() error { return os.WriteFile(filepath.Join(jail, "new"), []byte("x"), 0o600) },
		"grow an open file":    func() error { _, err := open.Write([]byte("x")); return err },
		"truncate a file":      func() error { return os.Truncate(file, 0) },
		"change a mode":        func() error { return os.Chmod(file, 0o777) },
		"remove a file":        func() error { return os.Remove(file) },
		"rename a file":        func() error { return os.Rename(file, file+"2") },
		"link a file":          func() error { return os.Link(file, file+"2") },
		"make a folder":        func() error { return os.Mkdir(filepath.Join(jail, "folder"), 0o700) },
		"TCP connect":          dial("tcp", tcp, false),
		"MPTCP connect":        dial("tcp", tcp, true),
		"TCP listen":           listen(false),
		"MPTCP listen":         listen(true),
		"UDP send":             dial("udp", "127.0.0.1:9", false),
		"abstract socket":      dial("unix", "@fence-probe", false),
		"named socket":         dial("unix", filepath.Join(jail, "socket"), false),
		"socket pair":          func() error { _, err := unix.Socketpair(unix.AF_UNIX, unix.SOCK_STREAM, 0); return err },
		"start a program":      func() error { return exec.Command("/bin/true").Run() },
		"fork":                 fork,
		"signal the parent":    func() error { return syscall.Kill(parent, 0) },
		"signal by thread":     func() error { return unix.Tgkill(parent, parent, 0) },
		"trace the parent":     func() error { return syscall.PtraceAttach(parent) },
		"read the parent": func() error {
			b := make([]byte, 8)
			local := []unix.Iovec{{Base: &b[0], Len: 8}}
			_, err := unix.ProcessVMReadv(parent, local, []unix.RemoteIovec{{Base: 0x400000, Len: 8}}, 0)
			return err
		},
		"memory file": func() error { _, err := unix.MemfdCreate("x", 0); return err },
		"io_uring":    ioUring,
		"executable memory": func() error {
			_, err := unix.Mmap(-1, 0, 4096, unix.PROT_READ|unix.PROT_EXEC, unix.MAP_ANON|unix.MAP_PRIVATE)
			return err
		},
		"raise a limit": func() error { return unix.Setrlimit(unix.RLIMIT_DATA, &unix.Rlimit{Cur: 1 << 40, Max: 1 << 40}) },
		"new namespace": func() error { return unix.Unshare(unix.CLONE_NEWUSER) },
		"kernel keys":   func() error { _, err := unix.KeyctlGetKeyringID(unix.KEY_SPEC_SESSION_KEYRING, true); return err },
		"performance events": func() error {
			_, err := unix.PerfEventOpen(&unix.PerfEventAttr{Type: unix.PERF_TYPE_SOFTWARE, Size: 128}, 0, -1, -1, 0)
			return err
		},
	}
}

// fork asks for a new process with a call that must be refused; were it granted, the new process would end at once.
func fork() error {
	pid, _, errno := unix.RawSyscall6(unix.SYS_CLONE, uintptr(unix.SIGCHLD), 0, 0, 0, 0, 0)
	if errno != 0 {
		return errno
	}
	if pid == 0 {
		unix.RawSyscall(unix.SYS_EXIT_GROUP, 0, 0, 0)
	}
	return nil
}

func ioUring() error {
	var parameters [120]byte
	_, _, errno := unix.Syscall(unix.SYS_IO_URING_SETUP, 1, uintptr(unsafe.Pointer(&parameters)), 0)
	if errno != 0 {
		return errno
	}
	return nil
}

// runtimeWorks exercises threads, timers and the collector behind the fence.
func runtimeWorks() string {
	done := make(chan int)
	for range 100 {
		go func() {
			b := make([]byte, 1<<20)
			for i := range b {
				b[i] = 1
			}
			time.Sleep(time.Millisecond)
			runtime.LockOSThread() // ends its thread, so that others must be started
			done <- len(b)
		}()
	}
	for range 100 {
		<-done
	}
	runtime.GC()
	debug.FreeOSMemory()
	return "works"
}

var eaten [][]byte

func eat() {
	for range 4096 {
		b := make([]byte, 1<<20)
		for i := 0; i < len(b); i += 4096 {
			b[i] = 1
		}
		eaten = append(eaten, b)
		time.Sleep(200 * time.Microsecond)
	}
}

func recurse(n int) int {
	var frame [128]int
	frame[n%128] = n
	return recurse(n+1) + frame[(n+1)%128]
}

func child(t *testing.T, probe string, env ...string) *exec.Cmd {
	t.Helper()
	cmd := exec.Command("/proc/self/exe")
	cmd.Env = append(env, probeEnv+"="+probe)
	return cmd
}

func TestNothingGetsOut(t *testing.T) {
	jail := t.TempDir()
	for _, name := range []string{"file", "open"} {
		if err := os.WriteFile(filepath.Join(jail, name), []byte("kept"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	tcp := serve(t, "tcp", "127.0.0.1:0")
	serve(t, "unix", "@fence-probe")
	serve(t, "unix", filepath.Join(jail, "socket"))

	text, err := child(t, "probes", jailEnv+"="+jail, tcpEnv+"="+tcp).Output()
	if err != nil {
		t.Fatalf("the fenced process ended: %v\n%s", err, err.(*exec.ExitError).Stderr)
	}
	var got outcome
	if err := json.Unmarshal(text, &got); err != nil {
		t.Fatal(err)
	}
	for name, denied := range got.Probes {
		if denied == "" {
			t.Errorf("%s: allowed", name)
		}
	}
	if len(got.Probes) < 30 || got.Works != "works" {
		t.Errorf("%d probes ran, runtime %q", len(got.Probes), got.Works)
	}
	if r := got.Report; !r.Files || !r.Network || !r.Processes || r.Memory == raceDetector {
		t.Errorf("report %+v", r)
	}
	if b, _ := os.ReadFile(filepath.Join(jail, "file")); string(b) != "kept" {
		t.Errorf("the file now holds %q", b)
	}
}

// serve accepts and closes connections, so that a probe that got through would succeed.
func serve(t *testing.T, network, address string) string {
	l, err := net.Listen(network, address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			c.Close()
		}
	}()
	return l.Addr().String()
}

func TestMemoryAndStackAreBounded(t *testing.T) {
	if raceDetector {
		t.Skip("the race detector's own memory lies beyond the limits")
	}
	for _, c := range []struct {
		probe, says string
		status      int
	}{
		{"memory", "out of memory", 2},
		{"watch", "", ExitMemory},
		{"stack", "stack exceeds 67108864-byte limit", 2},
	} {
		t.Run(c.probe, func(t *testing.T) {
			text, err := child(t, c.probe).CombinedOutput()
			exit, ok := err.(*exec.ExitError)
			if !ok || exit.ExitCode() != c.status || !strings.Contains(string(text), c.says) {
				t.Errorf("ended with %v, said %.200q", err, text)
			}
		})
	}
}

func BenchmarkWatchedMemory(b *testing.B) {
	for b.Loop() {
		memory()
	}
}
