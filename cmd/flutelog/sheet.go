package main

import (
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"

	"flutelog/cmd/flutelog/internal/paper"
	"flutelog/inspect/record"
	"flutelog/inspect/report"
)

// sheetFlags are the flags of a sheet or tag.
type sheetFlags struct {
	places
	units
	out string
	tag bool
}

func sheetCommand() command {
	var s sheetFlags
	return command{
		name: "sheet", args: "INSPECTION…",
		summary: "write the inspection sheet, or the tag to tie to the tool, as a page to print",
		example: "sheet EM-0412.3 -o sheet.html",
		flags:   s.flags,
		run:     func(e env, f *flags) error { return s.run(e, f.args) },
	}
}

func (s *sheetFlags) flags(f *flags) {
	f.StringVarP(&s.out, "output", "o", "", "file to write (default: standard output); of several inspections, the folder to write them to")
	f.BoolVar(&s.tag, "tag", false, "write the tag instead of the sheet")
	f.StringVar(&s.name, "unit", "", "unit of lengths, in or mm (default: the bench file's)")
	s.places.flags(f)
}

func (s *sheetFlags) run(e env, ids []string) error {
	at, err := s.openIn(e, &s.units)
	if err != nil {
		return err
	}
	if len(ids) > 1 && s.out == "" {
		return usagef("%d inspections: name a folder with --output", len(ids))
	}
	write := report.Sheet
	if s.tag {
		write = report.Tag
	}
	for _, id := range ids {
		in, err := paper.Of(at.Ledger, at.bench.Name, id, at.unit)
		if errors.Is(err, record.ErrNoInspection) {
			return hinted{err, "flutelog history TOOL lists a tool's inspections"}
		}
		if err != nil {
			return err
		}
		path := s.out
		if len(ids) > 1 {
			if err := os.MkdirAll(s.out, 0o700); err != nil {
				return err
			}
			path = filepath.Join(s.out, url.PathEscape(id)+".html")
		}
		if err := writeWhole(e, path, func(w io.Writer) error { return write(w, in) }); err != nil {
			return fmt.Errorf("%s: %w", id, err)
		}
	}
	return nil
}
