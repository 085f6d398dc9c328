package supervisor

import (
	"bufio"
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"tossline/kernel/engine"
)

func read(t *testing.T, pid int, name string) string {
	t.Helper()
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/%s", pid, name))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// An engine with a recipe at work has nothing of this process, and can get nothing.
func TestEnginesAreApart(t *testing.T) {
	var inherited [2]int
	if err := unix.Pipe2(inherited[:], 0); err != nil { // not closed when another program is run
		t.Fatal(err)
	}
	defer unix.Close(inherited[0])
	defer unix.Close(inherited[1])
	t.Setenv("TOSSLINE_SECRET", "secret")
	s := start(t, Options{Limits: Limits{Memory: 256 << 20}})
	pid, err := spinning(s)
	if err != nil {
		t.Fatal(err)
	}

	if environment := read(t, pid, "environ"); environment != "" {
		t.Errorf("its environment is %q", environment)
	}
	if folder, _ := os.Readlink(fmt.Sprintf("/proc/%d/cwd", pid)); folder != "/" {
		t.Errorf("it works in %q", folder)
	}
	descriptors, err := filepath.Glob(fmt.Sprintf("/proc/%d/fd/*", pid))
	if err != nil || len(descriptors) < 3 {
		t.Fatal(err, descriptors)
	}
	for _, path := range descriptors {
		to, _ := os.Readlink(path)
		number, _ := strconv.Atoi(filepath.Base(path))
		standard := number <= 2 && strings.HasPrefix(to, "pipe:")
		own := slices.Contains([]string{"anon_inode:[eventpoll]", "anon_inode:[eventfd]"}, to) ||
			strings.HasPrefix(to, "/sys/fs/cgroup/") // the Go runtime's own, which ask for the share of processors
		if !standard && !own {
			t.Errorf("it holds %d, %s", number, to)
		}
	}
	status := read(t, pid, "status")
	for _, line := range []string{"Seccomp:\t2", "NoNewPrivs:\t1"} {
		if !strings.Contains(status, line) {
			t.Errorf("its status lacks %q", line)
		}
	}
	limits := strings.Join(strings.Fields(read(t, pid, "limits")), " ")
	for _, line := range []string{"core file size 0 0", "file size 0 0"} {
		if !strings.Contains(limits, line) {
			t.Errorf("its limits lack %q", line)
		}
	}
	if group, err := syscall.Getpgid(pid); err != nil || group != pid {
		t.Errorf("it is in process group %d, %v", group, err)
	}
	if fence := s.State().Fence; !fence.Files || !fence.Network || !fence.Processes {
		t.Errorf("the reader is told %+v", fence)
	}
}

// gone waits until a process has ended; whether its parent has taken note of that doesn't matter.
func gone(pid int) bool {
	for deadline := time.Now().Add(patience); time.Now().Before(deadline); time.Sleep(10 * time.Millisecond) {
		stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
		if _, state, found := bytes.Cut(stat, []byte(") ")); err != nil || found && (state[0] == 'Z' || state[0] == 'X') {
			return true
		}
	}
	return false
}

// When the workbench is killed, its engines end, however busy they are.
func TestEnginesEndWithTheWorkbench(t *testing.T) {
	parent := exec.Command(os.Args[0], "workbench")
	out, err := parent.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := parent.Start(); err != nil {
		t.Fatal(err)
	}
	line, err := bufio.NewReader(out).ReadString('\n')
	pid, err2 := strconv.Atoi(strings.TrimSpace(line))
	parent.Process.Kill()
	parent.Wait()
	if err != nil || err2 != nil {
		t.Fatalf("no engine: %v, %v, %q", err, err2, line)
	}
	if !gone(pid) {
		syscall.Kill(pid, syscall.SIGKILL)
		t.Error("the engine lives on")
	}
}

// Where the system doesn't end an engine with its parent, the end of its input does.
func TestEnginesEndWithTheirInput(t *testing.T) {
	cmd := exec.Command(os.Args[0], "engine")
	cmd.Env = []string{}
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	defer cmd.Process.Kill()
	taken, _ := emptyIn(t.TempDir())(t.Context())
	list, _, err := taken.Catalogue.Encode()
	if err != nil {
		t.Fatal(err)
	}
	w, r := engine.NewWriter(in), engine.NewReader(out, engine.MaxAnswer)
	tell := func(kind engine.Kind, id uint64, body any, parts ...engine.Part) {
		f, err := engine.NewFrame(kind, id, body, parts...)
		if err == nil {
			err = w.Write(f)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	tell(engine.KindOpen, 0, engine.Open{Folder: taken.Folder}, engine.Part{Name: "catalogue", Bytes: list})
	tell(engine.KindRun, 1, engine.Run{File: "rogue.go", Source: endless})
	for {
		f, err := r.Read()
		if err != nil {
			t.Fatal(err)
		}
		if f.Kind == engine.KindStep && bytes.Contains(f.Body, []byte(`"Bad"`)) {
			break
		}
	}
	in.Close()
	if err := cmd.Wait(); err != nil {
		t.Error(err)
	}
}
