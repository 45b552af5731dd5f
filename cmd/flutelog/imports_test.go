package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// The table of packages in DEVELOPERS.md names every package, and of each what it imports of ours: no more, no less.
func TestImportsAreThoseOfTheTable(t *testing.T) {
	const top = "../.."
	text, err := os.ReadFile(filepath.Join(top, "DEVELOPERS.md"))
	if err != nil {
		t.Fatal(err)
	}
	table := map[string]string{}
	for _, row := range regexp.MustCompile("(?m)^\\| `([^`]+)` \\|[^|]*\\| ([^|]*) \\|$").FindAllStringSubmatch(string(text), -1) {
		table[row[1]] = row[2]
	}
	// Told as the table tells it: what all of ours begins with is left out.
	short := func(p string) string {
		p = strings.TrimPrefix(p, "flutelog/")
		if p != "inspect" {
			p = strings.TrimPrefix(p, "inspect/")
		}
		return strings.TrimPrefix(p, "cmd/flutelog/")
	}
	imports := map[string][]string{}
	err = filepath.WalkDir(top, func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() && (d.Name() == "testdata" || strings.HasPrefix(d.Name(), ".") && name != top) {
			return firstOf(err, fs.SkipDir)
		}
		if d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") {
			return nil
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		dir, err := filepath.Rel(top, filepath.Dir(name))
		if err != nil {
			return err
		}
		p := path.Join("flutelog", filepath.ToSlash(dir))
		imports[p] = append(imports[p], "")
		for _, i := range file.Imports {
			if of, err := strconv.Unquote(i.Path.Value); err == nil && strings.HasPrefix(of, "flutelog/") {
				imports[p] = append(imports[p], short(of))
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for p, of := range imports {
		slices.Sort(of)
		of = slices.Compact(of)[1:]
		want := strings.Join(of, ", ")
		if want == "" {
			want = "none"
		}
		name := strings.TrimPrefix(p, "flutelog/")
		listed, ok := table[name]
		switch {
		case !ok:
			t.Errorf("DEVELOPERS.md has no row of %s; it imports %s", name, want)
		case listed != "all" && listed != want:
			t.Errorf("DEVELOPERS.md says of %s: %s\nit imports: %s", name, listed, want)
		}
		delete(table, name)
	}
	for name := range table {
		if strings.HasPrefix(name, "inspect") || strings.HasPrefix(name, "cmd/") || name == "device" {
			t.Errorf("DEVELOPERS.md has a row of %s, which is no package", name)
		}
	}
}

// Package main is the table of commands and the commands that only read flags, call and print: what several share and
// what is a subject of its own stands in a package below.
func TestMainStaysThin(t *testing.T) {
	const most = 150
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	functions := 0
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range file.Decls {
			if _, ok := d.(*ast.FuncDecl); ok {
				functions++
			}
		}
	}
	if functions == 0 || functions > most {
		t.Errorf("package main has %d functions, want at most %d: give a subject a package of its own", functions, most)
	}
}

func firstOf(err, otherwise error) error {
	if err != nil {
		return err
	}
	return otherwise
}
