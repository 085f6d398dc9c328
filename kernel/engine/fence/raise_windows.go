package fence

import (
	"unsafe"

	"golang.org/x/sys/windows"
)

// CloseInherited has nothing to do: Go hands no handles on but the three standard ones.
func CloseInherited() {}

// raise puts the process into a job of its own: it can start no other, its memory is bounded, and an error that it
// doesn't handle opens no window.
func raise(l Limits) Report {
	var r Report
	job, err := windows.CreateJobObject(nil, nil)
	if err == nil {
		err = limit(job, l)
	}
	if err == nil {
		err = windows.AssignProcessToJobObject(job, windows.CurrentProcess())
	}
	r.Processes, r.Memory = err == nil, err == nil
	if err != nil {
		r.Gaps = append(r.Gaps, "job object: "+err.Error())
	}
	r.Gaps = append(r.Gaps, "this system shuts off neither files nor network")
	return r
}

func limit(job windows.Handle, l Limits) error {
	var limits windows.JOBOBJECT_EXTENDED_LIMIT_INFORMATION
	limits.BasicLimitInformation.LimitFlags = windows.JOB_OBJECT_LIMIT_ACTIVE_PROCESS |
		windows.JOB_OBJECT_LIMIT_PROCESS_MEMORY | windows.JOB_OBJECT_LIMIT_DIE_ON_UNHANDLED_EXCEPTION
	limits.BasicLimitInformation.ActiveProcessLimit = 1
	limits.ProcessMemoryLimit = uintptr(l.Data)
	_, err := windows.SetInformationJobObject(job, windows.JobObjectExtendedLimitInformation,
		uintptr(unsafe.Pointer(&limits)), uint32(unsafe.Sizeof(limits)))
	return err
}
