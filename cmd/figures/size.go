//go:build linux

package main

import (
	"bytes"
	"cmp"
	"debug/elf"
	"encoding/json"
	"fmt"
	"go/ast"
	"go/parser"
	"go/printer"
	"go/token"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// How README builds it for an old small board.
var (
	armEnv   = []string{"GOOS=linux", "GOARCH=arm", "GOARM=6"}
	armFlags = []string{"-tags", "nethttpomithttp2", "-gcflags=all=-l", "-ldflags", "-s -w -R 4096"}
)

// size measures the program for an old small board, and how much of it is there for the register's sake.
func size(b *bench) ([]figure, error) {
	path := filepath.Join(b.dir, "flutelog.arm")
	if err := build(path, armEnv, armFlags...); err != nil {
		return nil, err
	}
	whole, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	all := []figure{{"stripped linux/arm program", fmt.Sprintf("%.2f MiB", float64(whole.Size())/(1<<20)), "-", "12 MiB", whole.Size() < 12<<20}}
	overlay, err := b.hollow("inspect/register")
	if err != nil {
		return all, err
	}
	without := filepath.Join(b.dir, "flutelog.arm.without")
	if err := build(without, armEnv, append(armFlags, "-overlay", overlay)...); err != nil {
		return all, err
	}
	grown := loaded(path) - loaded(without)
	return append(all, figure{"of that, text and data of the register's client and all that it alone needs", fmt.Sprintf("%d kB", grown/1000), "the program with its functions empty", "300 kB", grown <= 300_000}), nil
}

// loaded returns how many bytes of a program are loaded when it runs.
func loaded(path string) (bytes int64) {
	program, err := elf.Open(path)
	if err != nil {
		panic(err) // it was built here
	}
	defer program.Close()
	for _, s := range program.Sections {
		if s.Flags&elf.SHF_ALLOC != 0 && s.Type != elf.SHT_NOBITS {
			bytes += int64(s.Size)
		}
	}
	return bytes
}

// hollow makes an overlay for go build in which no function of a package does anything.
func (b *bench) hollow(dir string) (overlay string, err error) {
	names, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil || len(names) == 0 {
		return "", fmt.Errorf("%s: no files; run this in the folder of go.mod: %w", dir, cmp.Or(err, os.ErrNotExist))
	}
	replaced := map[string]string{}
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		files := token.NewFileSet()
		file, err := parser.ParseFile(files, name, nil, parser.SkipObjectResolution)
		if err != nil {
			return "", err
		}
		for _, d := range file.Decls {
			if f, ok := d.(*ast.FuncDecl); ok {
				f.Body = &ast.BlockStmt{List: []ast.Stmt{&ast.ExprStmt{X: &ast.CallExpr{Fun: ast.NewIdent("panic"), Args: []ast.Expr{ast.NewIdent("nil")}}}}}
			}
		}
		used := map[string]bool{}
		ast.Inspect(file, func(n ast.Node) bool {
			if s, ok := n.(*ast.SelectorExpr); ok {
				if x, ok := s.X.(*ast.Ident); ok {
					used[x.Name] = true
				}
			}
			return true
		})
		for _, i := range file.Imports {
			if path, _ := strconv.Unquote(i.Path.Value); !used[path[strings.LastIndexByte(path, '/')+1:]] {
				i.Name = ast.NewIdent("_")
			}
		}
		var text bytes.Buffer
		file.Comments = nil
		if err := printer.Fprint(&text, files, file); err != nil {
			return "", err
		}
		from, err := filepath.Abs(name)
		if err != nil {
			return "", err
		}
		replaced[from] = filepath.Join(b.dir, "hollow-"+filepath.Base(name))
		if err := os.WriteFile(replaced[from], text.Bytes(), 0o600); err != nil {
			return "", err
		}
	}
	text, err := json.Marshal(map[string]any{"Replace": replaced})
	overlay = filepath.Join(b.dir, "overlay.json")
	return overlay, cmp.Or(err, os.WriteFile(overlay, text, 0o600))
}
