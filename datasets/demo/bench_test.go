package demo_test

import (
	"context"
	"path/filepath"
	"testing"

	"tossline/datasets/demo"
)

// BenchmarkCreate makes the whole season, as at the first start.
func BenchmarkCreate(b *testing.B) {
	for b.Loop() {
		dir := filepath.Join(b.TempDir(), "season")
		if err := demo.Create(context.Background(), dir, "test", demo.DefaultSeed, nil); err != nil {
			b.Fatal(err)
		}
	}
}
