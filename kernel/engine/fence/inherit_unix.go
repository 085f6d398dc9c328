//go:build unix

package fence

import (
	"os"
	"strconv"

	"golang.org/x/sys/unix"
)

// CloseInherited closes all descriptors that came from whoever started this process, but for the three standard ones.
// Go marks those that it opens itself to be closed when another program is run; what has no such mark is inherited.
func CloseInherited() {
	for _, fd := range descriptors() {
		flags, err := unix.FcntlInt(uintptr(fd), unix.F_GETFD, 0)
		if err == nil && flags&unix.FD_CLOEXEC == 0 {
			unix.Close(fd)
		}
	}
}

// descriptors are those that are open from 3 on, or all that commonly are where the system doesn't tell.
func descriptors() []int {
	var list []int
	for _, folder := range []string{"/proc/self/fd", "/dev/fd"} {
		entries, err := os.ReadDir(folder)
		if err != nil {
			continue
		}
		for _, entry := range entries {
			if fd, err := strconv.Atoi(entry.Name()); err == nil && fd > 2 {
				list = append(list, fd)
			}
		}
		return list
	}
	for fd := 3; fd < 1024; fd++ {
		list = append(list, fd)
	}
	return list
}
