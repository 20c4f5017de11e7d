// Package schema holds the file formats and results as JSON Schema (draft
// 2020-12), one file each, for programs that read or write them. The decoder in
// package yokemate is the judge of a file; tests hold the two together.
package schema

import (
	"embed"
	"strings"
)

//go:embed *.schema.json
var files embed.FS

const ending = ".schema.json"

// Names lists the schemas, in alphabetical order.
func Names() []string {
	list, err := files.ReadDir(".")
	if err != nil {
		panic(err) // the files are part of the program
	}
	var names []string
	for _, f := range list {
		names = append(names, strings.TrimSuffix(f.Name(), ending))
	}
	return names
}

// Get returns the schema of that name.
func Get(name string) ([]byte, bool) {
	b, err := files.ReadFile(name + ending)
	return b, err == nil
}
