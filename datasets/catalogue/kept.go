package catalogue

import (
	"fmt"

	"github.com/apache/arrow/go/v17/arrow"

	"tossline/datasets/tablefile"
	"tossline/kernel/table"
)

// keptTable is the file of a table, or why it can't be read.
type keptTable struct {
	file *tablefile.File
	err  error
}

// openTables maps every table's file; none is read before somebody asks for it.
func (c *Catalogue) openTables(open func(Table) (*tablefile.File, error)) {
	c.tables = make([]keptTable, len(c.list.Tables))
	for i, t := range c.list.Tables {
		c.tables[i].file, c.tables[i].err = open(t)
	}
}

func (c *Catalogue) closeTables() {
	for i := range c.tables {
		if file := c.tables[i].file; file != nil {
			file.Close()
		}
	}
	c.tables = nil
}

// Tables lists the tables that the season keeps, by name. The slice must not be changed.
func (c *Catalogue) Tables() []Table { return c.list.Tables }

// TableNames lists the names of the tables that the season keeps.
func (c *Catalogue) TableNames() []string {
	names := make([]string, len(c.list.Tables))
	for i, t := range c.list.Tables {
		names[i] = t.Name
	}
	return names
}

// Table gives table i of Tables as recipes see it. It is read when it is first asked for.
func (c *Catalogue) Table(i int) (table.Table, error) {
	return readTable(c, i, (*tablefile.File).Table)
}

// TableRecord gives table i of Tables as it is stored.
func (c *Catalogue) TableRecord(i int) (arrow.Record, error) {
	return readTable(c, i, (*tablefile.File).Record)
}

func readTable[T any](c *Catalogue, i int, read func(*tablefile.File) (T, error)) (content T, err error) {
	if err = c.tables[i].err; err == nil {
		content, err = read(c.tables[i].file)
	}
	if err != nil {
		return content, fmt.Errorf("the table %s can't be read: %w; import its file again, or take it out",
			c.list.Tables[i].Name, err)
	}
	return content, nil
}
