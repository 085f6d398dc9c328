package season

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"tossline/datasets/frames"
)

// Signals gives what was recorded beside the points of a recording, nil where nothing was.
func (s *Season) Signals(ctx context.Context, recording string) ([]frames.Signal, error) {
	var hash string
	err := s.db.QueryRowContext(ctx, "select coalesce(signals_sha256, '') from recordings where id = ?", recording).
		Scan(&hash)
	if err != nil {
		return nil, fmt.Errorf("recording %s: %w", recording, describe(err))
	}
	if hash == "" {
		return nil, nil
	}
	data, err := os.ReadFile(s.framesPath(hash))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, errors.New("its file of signals is missing")
	}
	if err != nil {
		return nil, fmt.Errorf("its file of signals can't be read: %w", errors.Unwrap(err))
	}
	if sum := sha256.Sum256(data); hex.EncodeToString(sum[:]) != hash {
		return nil, errors.New("its file of signals was changed: the content is not what its hash says")
	}
	return frames.ReadSignals(data)
}
