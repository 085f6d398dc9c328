//go:build !unix

package engine

import "os"

// room gives nil: numbers stay in memory.
func room(*os.File, int64) []float32 { return nil }
