package arrowstream

import "testing"

func TestFrugalGivesNoMoreThanIsLeft(t *testing.T) {
	for _, c := range []struct {
		name    string
		ask     func(f *Frugal)
		refused bool
		left    int64
	}{
		{"all of it", func(f *Frugal) { f.Allocate(100) }, false, 0},
		{"more", func(f *Frugal) { f.Allocate(101) }, true, 100},
		{"more in two parts", func(f *Frugal) { f.Allocate(60); f.Allocate(60) }, true, 40},
		{"given back between", func(f *Frugal) { f.Free(f.Allocate(60)); f.Allocate(60) }, false, 40},
		{"grown", func(f *Frugal) { f.Reallocate(90, f.Allocate(50)) }, false, 10},
		{"grown too far", func(f *Frugal) { f.Reallocate(101, f.Allocate(50)) }, true, 50},
		{"shrunk", func(f *Frugal) { f.Reallocate(10, f.Allocate(50)) }, false, 90},
	} {
		f := &Frugal{Left: 100}
		refused := func() (refused bool) {
			defer func() { refused = recover() != nil }()
			c.ask(f)
			return false
		}()
		if refused != c.refused || f.Left != c.left {
			t.Errorf("%s: refused %v, %d left; want %v, %d", c.name, refused, f.Left, c.refused, c.left)
		}
	}
}
