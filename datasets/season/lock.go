package season

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"
)

const lockName = "season.lock"

// Holder is the process that writes a season.
type Holder struct {
	PID     int       `json:"pid"`
	Command string    `json:"command"` // what it was started as, such as "tossline open"
	Since   time.Time `json:"since"`
}

// Held is the error of opening a season for writing while another process does.
type Held struct {
	Dir string
	By  Holder // zero where the holder has not written its name yet
}

func (h *Held) Error() string {
	if h.By.PID == 0 {
		return fmt.Sprintf("the season %s is being written by another process; close it first, or open the season for "+
			"reading", h.Dir)
	}
	return fmt.Sprintf("the season %s is being written by process %d (%s), since %s; close it first, or open the season "+
		"for reading", h.Dir, h.By.PID, h.By.Command, h.By.Since.Local().Format("2 Jan 2006, 15:04:05"))
}

// lock takes the season's lock and writes down who holds it.
func lock(dir, command string) (*os.File, error) {
	f, err := os.OpenFile(filepath.Join(dir, lockName), os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, err
	}
	got, err := tryLock(f)
	if err == nil && !got {
		err = &Held{Dir: dir, By: readHolder(f)}
	}
	if err != nil {
		f.Close()
		return nil, err
	}
	// Writing the holder's name is a courtesy: a full disk must not keep anybody from opening the season.
	text, _ := json.Marshal(Holder{PID: os.Getpid(), Command: command, Since: time.Now().Truncate(time.Second)})
	if f.Truncate(0) == nil {
		f.WriteAt(append(text, '\n'), 0)
	}
	return f, nil
}

func readHolder(f *os.File) Holder {
	var h Holder
	text, _ := io.ReadAll(io.LimitReader(f, 4096))
	json.Unmarshal(text, &h)
	return h
}

func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	defer f.Close()
	return f.Sync()
}
