package motion

import (
	"fmt"
	"slices"

	"tossline/kernel/spelling"
	"tossline/kernel/table"
)

// tableSource is a Source whose season keeps tables.
type tableSource interface {
	TableNames() []string
	Table(i int) (table.Table, error) // in the order of the names
}

// Table gives a table that the season keeps: what a colleague measured, a reference group, the numbers of force plates;
// tossline import --table, or dropping its file on the page, brings one in. It holds what the file held, whichever
// players and sessions Of and Between chose: columns with their units, null where a value is missing. A column that
// names serves as the season does (serve) joins it to what is measured:
//
//	ours, err := season.Measure(motion.FrontKneeFlexion)
//	...
//	theirs, err := season.Table("lab")
//	...
//	both := ours.Join(theirs, "serve")
//
// A name that the season does not keep is an error that tells the nearest, or those that there are.
func (s Season) Table(name string) (table.Table, error) {
	var names []string
	source, ok := s.source.(tableSource)
	if ok {
		names = source.TableNames()
	}
	if at := slices.Index(names, name); at >= 0 {
		return source.Table(at)
	}
	return table.Table{}, fmt.Errorf("the season keeps no table %q%s", name, spelling.Hint(name, names))
}
