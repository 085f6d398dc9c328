//go:build !linux && !darwin && !windows

package fence

func raise(Limits) Report {
	return Report{Gaps: []string{"this system offers no fence that Tossline knows"}}
}
