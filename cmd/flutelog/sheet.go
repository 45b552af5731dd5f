package main

import (
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"flutelog/cmd/flutelog/internal/papers"
	"flutelog/inspect/paper"
	"flutelog/inspect/record"
)

// paperFlags are the flags of what is printed.
type paperFlags struct {
	places
	units
	out string
}

func (p *paperFlags) flags(f *flags, output string) {
	f.StringVarP(&p.out, "output", "o", "", output)
	f.StringVar(&p.name, "unit", "", "unit of lengths, in or mm (default: the bench file's)")
	p.places.flags(f)
}

// source opens what papers are made from.
func (p *paperFlags) source(e env) (papers.Source, error) {
	at, err := p.openIn(e, &p.units)
	if err != nil {
		return papers.Source{}, err
	}
	return papers.Source{Ledger: at.Ledger, Bench: at.bench.Name, Unit: at.unit}, nil
}

func sheetCommand() command {
	var p paperFlags
	return command{
		name: "sheet", args: "INSPECTION…",
		summary: "write the sheet of an inspection, one page to print",
		example: "sheet EM-0412.3 -o sheet.html",
		flags: func(f *flags) {
			p.flags(f, "file to write (default: standard output); of several inspections, the folder to write them to")
		},
		run: func(e env, f *flags) error { return p.sheets(e, f.args) },
	}
}

func (p *paperFlags) sheets(e env, ids []string) error {
	s, err := p.source(e)
	if err != nil {
		return err
	}
	if len(ids) > 1 && p.out == "" {
		return usagef("%d inspections: name a folder with --output", len(ids))
	}
	for _, id := range ids {
		sheet, err := s.Sheet(id)
		if errors.Is(err, record.ErrNoInspection) {
			return hint(err, "flutelog history TOOL lists a tool's inspections")
		}
		if err != nil {
			return err
		}
		path := p.out
		if len(ids) > 1 {
			if err := os.MkdirAll(p.out, 0o700); err != nil {
				return err
			}
			path = filepath.Join(p.out, url.PathEscape(id)+".html")
		}
		if err := writeWhole(e, path, func(w io.Writer) error { return paper.WriteSheet(w, sheet) }); err != nil {
			return fmt.Errorf("%s: %w", id, err)
		}
	}
	return nil
}

func tagCommand() command {
	var p paperFlags
	return command{
		name: "tag", args: "TOOL…",
		summary: "write the tags of tools, six a page, to print, cut and tie on",
		example: "tag EM-0412 -o tags.html",
		flags:   func(f *flags) { p.flags(f, "file to write (default: standard output)") },
		run:     func(e env, f *flags) error { return p.tags(e, f.args) },
	}
}

func (p *paperFlags) tags(e env, ids []string) error {
	s, err := p.source(e)
	if err != nil {
		return err
	}
	for i, id := range ids {
		if ids[i], err = s.ToolID(id); err == nil {
			continue
		}
		if of := strings.LastIndexByte(id, '.'); of > 0 && errors.Is(err, record.ErrNoTool) {
			if _, failed := s.ToolID(id[:of]); failed == nil {
				return hint(err, fmt.Sprintf("%s is an inspection, and a tag is of a tool: flutelog tag %s", id, id[:of]))
			}
		}
		return err
	}
	tags, err := s.Tags(ids)
	if err != nil {
		return err
	}
	return writeWhole(e, p.out, func(w io.Writer) error { return paper.WriteTags(w, tags) })
}

func certificateCommand() command {
	var p paperFlags
	return command{
		name: "certificate", args: "JOB",
		summary: "write the certificate of a job, a row a tool, to print; or what it lacks to be one",
		example: "certificate J-77 -o certificate.html",
		flags:   func(f *flags) { p.flags(f, "file to write (default: standard output)") },
		run:     func(e env, f *flags) error { return p.certificate(e, f.args[0]) },
	}
}

func (p *paperFlags) certificate(e env, job string) error {
	s, err := p.source(e)
	if err != nil {
		return err
	}
	c, err := s.Certificate(job)
	if errors.Is(err, record.ErrNoJob) {
		return usage(err)
	}
	if err != nil {
		return err
	}
	if c.Condition != "" {
		fmt.Fprintf(e.stderr, "flutelog: %s\n", c.Condition)
	}
	return writeWhole(e, p.out, func(w io.Writer) error { return paper.WriteCertificate(w, c) })
}
