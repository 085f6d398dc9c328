// Package recipes holds the recipes that come with Tossline, in the order of the shelf. Each is one Go file in a folder
// of its own, compiled with the rest by the ordinary go command, and embedded here as the text that the page shows.
package recipes

import (
	"embed"
	"path"
)

// Recipe is one shipped recipe.
type Recipe struct {
	File   string // "contact_offset.go"
	Source string
}

//go:embed */*.go
var files embed.FS

// shelf lists the recipes in their order.
var shelf = []string{
	"contactoffset/contact_offset.go",
	"kneeflex/knee_flex.go",
	"dropdepth/drop_depth.go",
	"seasonataglance/season_at_a_glance.go",
	"playerbesidereference/player_beside_reference.go",
	"diditchange/did_it_change.go",
	"testahunch/test_a_hunch.go",
	"trophyposition/trophy_position.go",
	"waytocontact/way_to_contact.go",
	"jumpdriftlanding/jump_drift_landing.go",
	"tossconsistency/toss_consistency.go",
	"dataquality/data_quality.go",
	"load/load.go",
}

// Shipped lists the recipes in the order of the shelf.
func Shipped() []Recipe {
	list := make([]Recipe, 0, len(shelf))
	for _, name := range shelf {
		source, err := files.ReadFile(name)
		if err != nil {
			panic("recipes: " + name + " is listed but not embedded") // a mistake of the build
		}
		list = append(list, Recipe{File: path.Base(name), Source: string(source)})
	}
	return list
}
