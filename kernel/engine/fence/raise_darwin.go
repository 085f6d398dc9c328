package fence

import "golang.org/x/sys/unix"

// raise leaves no room for new descriptors, without which neither file nor socket can be opened.
func raise(l Limits) Report {
	var r Report
	set := func(name string, which int, value int64) bool {
		err := unix.Setrlimit(which, &unix.Rlimit{Cur: uint64(value), Max: uint64(value)})
		if err != nil {
			r.Gaps = append(r.Gaps, name+" limit: "+err.Error())
		}
		return err == nil
	}
	set("core", unix.RLIMIT_CORE, 0)
	set("file size", unix.RLIMIT_FSIZE, l.Write)
	r.Processes = set("processes", unix.RLIMIT_NPROC, 0)
	r.Files = set("descriptors", unix.RLIMIT_NOFILE, 0)
	r.Network = r.Files
	r.Gaps = append(r.Gaps, "macOS does not bound the memory: the engine watches its own")
	return r
}
