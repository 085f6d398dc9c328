package season

import (
	"context"
	"database/sql"
	"errors"

	"tossline/kernel/motion"
)

// Group is serves that a person chose and named, in the order in which they chose them.
type Group struct {
	Name   string           `json:"name"`
	Serves []motion.ServeID `json:"serves"`
}

// SaveGroup keeps a group, in place of one of the same name. Serves may be left out or gone at the moment: they are
// known by their ids, which stay.
func (w *Writer) SaveGroup(ctx context.Context, g Group) error {
	if g.Name == "" || anyText(g.Name) != nil {
		return errors.New("a group of serves needs a name, on one line")
	}
	return w.change(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, "delete from groups where name = ?", g.Name); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, "insert into groups values (?, ?)", g.Name, now()); err != nil {
			return err
		}
		for i, serve := range g.Serves {
			if _, err := tx.ExecContext(ctx, "insert into group_serves values (?, ?, ?)", g.Name, i, string(serve)); err != nil {
				return err
			}
		}
		return nil
	})
}

// RemoveGroup forgets a group; the serves stay.
func (w *Writer) RemoveGroup(ctx context.Context, name string) error {
	return w.set(ctx, "delete from groups where name = ?", name)
}

// Groups lists the groups of serves by name.
func (s *Season) Groups(ctx context.Context) ([]Group, error) {
	rows, err := s.db.QueryContext(ctx, `select g.name, coalesce(s.serve, '') from groups g
		left join group_serves s on s.name = g.name order by g.name, s.place`)
	if err != nil {
		return nil, describe(err)
	}
	defer rows.Close()
	var groups []Group
	for rows.Next() {
		var name string
		var serve motion.ServeID
		if err := rows.Scan(&name, &serve); err != nil {
			return nil, describe(err)
		}
		if len(groups) == 0 || groups[len(groups)-1].Name != name {
			groups = append(groups, Group{Name: name})
		}
		if serve != "" {
			g := &groups[len(groups)-1]
			g.Serves = append(g.Serves, serve)
		}
	}
	return groups, describe(rows.Err())
}
