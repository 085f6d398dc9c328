package supervisor

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strings"
	"syscall"
	"testing"
	"time"

	"tossline/kernel/engine"
	"tossline/kernel/engine/fence"
	"tossline/kernel/interp"
	"tossline/kernel/result"
)

// The test binary plays the engine, too: as it is, or as one that misbehaves in ways that no recipe can bring about.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 {
		switch os.Args[1] {
		case "engine":
			engine.Main()
		case "workbench":
			playWorkbench()
			os.Exit(0)
		case "rogue":
			rogue()
			os.Exit(0)
		}
	}
	os.Exit(m.Run())
}

// rogue speaks the protocol and does what the source of a run says, which is one of misdeeds.
func rogue() {
	out := engine.NewWriter(os.Stdout)
	r := engine.NewReader(bufio.NewReader(os.Stdin), engine.MaxQuestion)
	for {
		f, err := r.Read()
		if err != nil {
			return
		}
		switch f.Kind {
		case engine.KindOpen:
			tell(out, engine.KindReady, 0, engine.Ready{})
		case engine.KindRun:
			var run engine.Run
			json.Unmarshal(f.Body, &run)
			go func() {
				if do := misdeeds[run.Source]; do != nil {
					do(out, f.ID, run)
				}
				tell(out, engine.KindDone, f.ID, engine.Done{})
			}()
		case engine.KindAsk:
			var ask engine.Ask
			json.Unmarshal(f.Body, &ask)
			if ask.Source == "hang" {
				time.Sleep(time.Hour) // not select: nothing else runs here, which the runtime takes for a deadlock
			}
			tell(out, engine.KindAnswer, f.ID, "an answer")
			tell(out, engine.KindDone, f.ID, engine.Done{})
		}
	}
}

func tell(w *engine.Writer, kind engine.Kind, id uint64, body any, parts ...engine.Part) {
	f, err := engine.NewFrame(kind, id, body, parts...)
	if err == nil {
		err = w.Write(f)
	}
	if err != nil {
		os.Exit(3)
	}
}

// begins says that a step is running, so that the sentences can name it.
func begins(w *engine.Writer, id uint64) {
	tell(w, engine.KindPlan, id, interp.Plan{Title: "Rogue", Steps: []interp.PlanStep{{Name: "Spread"}}})
	tell(w, engine.KindStep, id, interp.Step{Name: "Spread", State: interp.Running})
}

// misdeeds are what a rogue does when it is asked to run the source of that name.
var misdeeds = map[string]func(w *engine.Writer, id uint64, run engine.Run){
	"obey": func(w *engine.Writer, id uint64, run engine.Run) {
		begins(w, id)
		step := interp.Step{Name: "Spread", Key: "k1", State: interp.Done}
		for _, key := range run.Known {
			step.Kept = step.Kept || key == "k1"
		}
		if !step.Kept {
			step.Results = []result.Result{{Kind: result.KindText, Text: "fresh"}}
		}
		tell(w, engine.KindStep, id, step)
	},
	"refuse": func(w *engine.Writer, id uint64, _ engine.Run) {
		tell(w, engine.KindDone, id, engine.Done{Error: "the recipe has errors"})
		select {}
	},
	"hang":       func(w *engine.Writer, id uint64, _ engine.Run) { begins(w, id); select {} },
	"hang early": func(*engine.Writer, uint64, engine.Run) { select {} },
	"stop the process": func(w *engine.Writer, id uint64, _ engine.Run) {
		begins(w, id)
		syscall.Kill(os.Getpid(), syscall.SIGSTOP)
		select {} // the signal may take a moment
	},
	"panic": func(w *engine.Writer, id uint64, _ engine.Run) { begins(w, id); panic("a fault") },
	"leave": func(w *engine.Writer, id uint64, _ engine.Run) { begins(w, id); os.Exit(0) },
	"killed": func(w *engine.Writer, id uint64, _ engine.Run) {
		begins(w, id)
		syscall.Kill(os.Getpid(), syscall.SIGKILL)
	},
	"memory watched": func(w *engine.Writer, id uint64, _ engine.Run) {
		begins(w, id)
		os.Exit(fence.ExitMemory)
	},
	"eat": func(w *engine.Writer, id uint64, _ engine.Run) {
		begins(w, id)
		var all [][]byte
		for range 3000 {
			b := make([]byte, 1<<20)
			for i := 0; i < len(b); i += 4096 {
				b[i] = 1
			}
			all = append(all, b)
		}
		fmt.Fprintln(os.Stderr, len(all))
	},
	"garbage": func(w *engine.Writer, id uint64, _ engine.Run) {
		begins(w, id)
		io.WriteString(os.Stdout, strings.Repeat("garbage ", 100))
		select {}
	},
	"half a frame": func(w *engine.Writer, id uint64, _ engine.Run) {
		begins(w, id)
		os.Stdout.Write([]byte{200, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, '{'})
		os.Exit(0)
	},
	"giant frame": func(w *engine.Writer, id uint64, _ engine.Run) {
		begins(w, id)
		os.Stdout.Write([]byte{2, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1})
		select {}
	},
	"wrong kind": func(w *engine.Writer, id uint64, _ engine.Run) {
		begins(w, id)
		tell(w, engine.KindImported, id, "x")
		select {}
	},
	"wrong body": func(w *engine.Writer, id uint64, _ engine.Run) {
		begins(w, id)
		tell(w, engine.KindStep, id, "x")
		select {}
	},
	"false attachment": func(w *engine.Writer, id uint64, _ engine.Run) {
		begins(w, id)
		done := interp.Step{Name: "Spread", State: interp.Done}
		tell(w, engine.KindStep, id, done, engine.Part{Name: "0123", Bytes: []byte("x")})
		select {}
	},
	"false measures": func(w *engine.Writer, id uint64, _ engine.Run) {
		begins(w, id)
		tell(w, engine.KindMeasured, id, nil, engine.Part{Name: "x", Bytes: []byte("x")})
		select {}
	},
	"other calls": func(w *engine.Writer, id uint64, run engine.Run) {
		tell(w, engine.KindDone, id+1000, engine.Done{Error: "not yours"})
		tell(w, engine.KindStep, 0, interp.Step{Name: "Nobody's"})
	},
	"flood": func(w *engine.Writer, id uint64, _ engine.Run) {
		begins(w, id)
		for {
			tell(w, engine.KindLog, id, strings.Repeat("flood ", 10_000))
		}
	},
	"flood of errors": func(w *engine.Writer, id uint64, _ engine.Run) {
		begins(w, id)
		line := strings.Repeat("error ", 10_000) + "\n"
		for {
			io.WriteString(os.Stderr, line)
		}
	},
	"go on computing": func(w *engine.Writer, id uint64, _ engine.Run) {
		begins(w, id)
		go func() {
			for n := 0; ; n++ {
			}
		}()
	},
	"close the pipe": func(w *engine.Writer, id uint64, _ engine.Run) { begins(w, id); os.Stdout.Close(); select {} },
}
