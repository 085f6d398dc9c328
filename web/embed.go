// Package web holds the built page: the files that vite writes into dist. It compiles before they are built; then
// Built reports false and the server says so instead of showing a page.
package web

import (
	"embed"
	"io/fs"
)

//go:embed all:dist
var dist embed.FS

// Files is the built page: index.html, its hashed assets, and viewer.js, the script of an exported document.
func Files() fs.FS {
	files, err := fs.Sub(dist, "dist")
	if err != nil {
		panic("web: dist is embedded, so it must be there: " + err.Error())
	}
	return files
}

// Built reports whether the page was built before this program was.
func Built() bool {
	_, err := fs.Stat(dist, "dist/index.html")
	return err == nil
}
