package supervisor

import (
	"errors"
	"testing"
)

func TestCause(t *testing.T) {
	for _, c := range []struct{ name, said, want string }{
		{"the runtime's own words", "fatal error: runtime: out of memory", "ran out of memory"},
		{"the collector got none", "SIGSEGV: segmentation violation\nPC=0x43869d m=3 sigcode=1 addr=0x0\n\n" +
			"goroutine 0 [idle]:\nruntime.(*spanQueue).tryDrain(0x2000?)\nruntime.gcDrain(0x1c9e51909260, 0xb)\n",
			"ran out of memory"},
		{"a fault elsewhere", "SIGSEGV: segmentation violation\n\ngoroutine 7 [running]:\nmain.main()\n", "stopped"},
		{"calls without end", "runtime: goroutine stack exceeds 67108864-byte limit",
			"ran out of stack, as calls without end do,"},
		{"nothing", "", "stopped"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := cause(errors.New("ended"), c.said); got != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
}
