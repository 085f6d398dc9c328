package engine

import (
	"os"
	"time"

	"golang.org/x/sys/unix"
)

// flush keeps starting to write what changed in a room to its disk, until the process ends: pages that are written
// already can be taken away when memory is short, the others make everybody wait.
func flush(f *os.File) {
	go func() {
		for range time.Tick(200 * time.Millisecond) {
			if unix.SyncFileRange(int(f.Fd()), 0, 0, unix.SYNC_FILE_RANGE_WRITE) != nil {
				return // not on this file system
			}
		}
	}()
}
