package api

import (
	"bytes"
	"compress/gzip"
	_ "embed"
	"encoding/gob"
	"sync"
)

//go:embed docs.gz
var docs []byte

// Doc is the doc comment of a package ("tossline/kernel/table"), of one of its objects ("tossline/kernel/table.Mean")
// or of a method or field ("tossline/kernel/table.Table.Where"), "" where it has none. That of a predeclared function
// ("builtin.append") begins with its declaration.
func Doc(name string) string { return loadDocs()[name] }

var loadDocs = sync.OnceValue(func() map[string]string {
	texts := map[string]string{}
	unpacked, err := gzip.NewReader(bytes.NewReader(docs))
	if err != nil {
		return texts
	}
	var list []string // name, text, name, text
	if err := gob.NewDecoder(unpacked).Decode(&list); err != nil {
		return texts
	}
	for i := 0; i+1 < len(list); i += 2 {
		texts[list[i]] = list[i+1]
	}
	return texts
})
