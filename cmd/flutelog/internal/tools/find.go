package tools

import (
	"encoding/csv"
	"errors"
	"io"
	"os"
	"slices"
	"strings"

	"flutelog/cmd/flutelog/internal/board"
	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect"
	"flutelog/inspect/record"
	"flutelog/inspect/text"
)

// packingColumns are what a list of tools may say of each, beside its id: the flags of tool add, by their names.
var packingColumns = []string{"diameter", "flutes", "material", "helix", "hand", "ends", "teeth", "duty", "primary-relief", "secondary-relief", "rake", "note", "cut", "form", "sharpened", "taper", "at-least", "at-most", "size-class"}

// readPacking reads a customer's packing list: a header that names its columns, one of them id, and a line a tool. Each
// tool is what the flags say, with what its line says over that.
func (t *toolFlags) readPacking(e command.Env, f *command.Flags, path string, fresh inspect.Tool, at command.Opened) ([]inspect.Tool, error) {
	in, name := e.Stdin, "standard input"
	if path != "-" {
		file, err := os.Open(path)
		if err != nil {
			return nil, err
		}
		defer file.Close()
		in, name = file, path
	}
	r := csv.NewReader(text.Reader(in, command.MostText))
	r.TrimLeadingSpace = true
	header, err := r.Read()
	if err != nil {
		return nil, command.Usagef("%s: no header: want id and any of %s", name, strings.Join(packingColumns, ", "))
	}
	for i, h := range header {
		header[i] = strings.ToLower(strings.TrimSpace(h))
		if header[i] != "id" && !slices.Contains(packingColumns, header[i]) {
			return nil, command.Usagef("%s:1: column %q: want id and any of %s", name, h, strings.Join(packingColumns, ", "))
		}
	}
	if !slices.Contains(header, "id") {
		return nil, command.Usagef("%s:1: no column id", name)
	}
	// What a line does not say is what the flags say, not what the line before said.
	type given struct {
		value   string
		changed bool
	}
	flagged := map[string]given{}
	for _, h := range header {
		if h != "id" {
			flagged[h] = given{f.Lookup(h).Value.String(), f.Changed(h)}
		}
	}
	var tools []inspect.Tool
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			return tools, nil
		}
		line, _ := r.FieldPos(0)
		if err != nil {
			return nil, command.Usagef("%s: %v", name, err)
		}
		one := fresh
		for name, g := range flagged {
			f.Lookup(name).Value.Set(g.value)
			f.Lookup(name).Changed = g.changed
		}
		for i, cell := range cells {
			if cell, err = text.Check(strings.TrimSpace(cell)); err != nil {
				return nil, command.Usagef("%s:%d: %s: %w", name, line, header[i], err)
			}
			if header[i] == "id" {
				one.ID = cell
			} else if cell != "" {
				if err := f.Set(header[i], cell); err != nil {
					return nil, command.Usagef("%s:%d: %s %q: %w", name, line, header[i], cell, err)
				}
			}
		}
		tool, err := t.over(f, one, at.Unit)
		if err != nil {
			return nil, command.Usagef("%s:%d: %w", name, line, err)
		}
		if tools = append(tools, tool); len(tools) > board.MostAdded {
			return nil, command.Usagef("%s: more than %d tools", name, board.MostAdded)
		}
	}
}

// findCommand is tool find.
func findCommand() command.Command {
	var p command.Places
	var u command.Units
	return command.Command{
		Name: "find", Args: "WORD…", Summary: "find tools by any part of their id, job, customer, note, material or standing",
		Example: "tool find em-04 hss",
		Flags:   func(f *command.Flags) { p.Flags(f); u.Flags(f) },
		Run:     func(e command.Env, f *command.Flags) error { return findTools(e, f.Args, &p, &u) },
	}
}

func findTools(e command.Env, asked []string, p *command.Places, u *command.Units) error {
	at, err := p.OpenIn(e, u)
	if err != nil {
		return err
	}
	found, err := board.Find(at.Ledger, asked...)
	if err := command.Damaged(e, err); err != nil {
		return err
	}
	return printListed(e, func(put func(record.Listed)) error {
		for _, t := range found.Tools {
			put(t)
		}
		return nil
	}, at, u)
}
