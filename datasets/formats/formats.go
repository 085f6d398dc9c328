// Package formats makes every file format known to recording.Prepare. Import it for its effect.
package formats

import (
	_ "tossline/datasets/bvh"
	_ "tossline/datasets/c3d"
	_ "tossline/datasets/coco"
	_ "tossline/datasets/columnar"
	_ "tossline/datasets/delimited"
)
