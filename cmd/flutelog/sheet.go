package main

import (
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"flutelog/cmd/flutelog/internal/board"
	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/internal/papers"
	"flutelog/inspect/paper"
	"flutelog/inspect/record"
)

// paperFlags are the flags of what is printed.
type paperFlags struct {
	command.Places
	command.Units
	out string
}

func (p *paperFlags) flags(f *command.Flags, output string) {
	f.StringVarP(&p.out, "output", "o", "", output)
	f.WordVar(&p.Name, "unit", "", "unit of lengths, in or mm (default: the bench file's)")
	p.Places.Flags(f)
}

// source opens what papers are made from.
func (p *paperFlags) source(e command.Env) (papers.Source, error) {
	at, err := p.OpenIn(e, &p.Units)
	if err != nil {
		return papers.Source{}, err
	}
	return papers.Source{Ledger: at.Ledger, Bench: at.Bench.Name, Unit: at.Unit}, nil
}

// write writes a paper to where it is asked for. At a terminal, where nobody could read it, that is a file of its name.
func (p *paperFlags) write(e command.Env, kind, of string, write func(io.Writer) error) error {
	if p.out != "" || !command.AtTerminal(e) {
		return command.WriteWhole(e, p.out, write)
	}
	name := kind + "-" + board.FileName(of) + ".html"
	if err := command.WriteWhole(e, name, write); err != nil {
		return err
	}
	fmt.Fprintf(e.Stdout, "written to %s, to be printed from any browser\n", name)
	return nil
}

func sheetCommand() command.Command {
	var p paperFlags
	return command.Command{
		Name: "sheet", Args: "INSPECTION…",
		Summary: "write the sheet of an inspection, one page to print",
		Example: "sheet EM-0412.3 -o sheet.html",
		Flags: func(f *command.Flags) {
			p.flags(f, "file to write (default: standard output; at a terminal one named after it); of several inspections, the folder to write them to")
		},
		Run: func(e command.Env, f *command.Flags) error { return p.sheets(e, f.Args) },
	}
}

func (p *paperFlags) sheets(e command.Env, ids []string) error {
	s, err := p.source(e)
	if err != nil {
		return err
	}
	if len(ids) > 1 && p.out == "" {
		return command.Usagef("%d inspections: name a folder with --output", len(ids))
	}
	for _, id := range ids {
		sheet, err := s.Sheet(id)
		if errors.Is(err, record.ErrNoInspection) {
			return command.Hint(err, "flutelog history TOOL lists a tool's inspections")
		}
		if err != nil {
			return err
		}
		write := func(w io.Writer) error { return paper.WriteSheet(w, sheet) }
		if len(ids) == 1 {
			return p.write(e, "sheet", id, write)
		}
		if err := os.MkdirAll(p.out, 0o700); err != nil {
			return err
		}
		if err := command.WriteWhole(e, filepath.Join(p.out, url.PathEscape(id)+".html"), write); err != nil {
			return fmt.Errorf("%s: %w", id, err)
		}
	}
	return nil
}

func tagCommand() command.Command {
	var p paperFlags
	return command.Command{
		Name: "tag", Args: "TOOL…",
		Summary: "write the tags of tools, six a page, to print, cut and tie on",
		Example: "tag EM-0412 -o tags.html",
		Flags: func(f *command.Flags) {
			p.flags(f, "file to write (default: standard output; at a terminal one named after it)")
		},
		Run: func(e command.Env, f *command.Flags) error { return p.tags(e, f.Args) },
	}
}

func (p *paperFlags) tags(e command.Env, ids []string) error {
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
				return command.Hint(err, fmt.Sprintf("%s is an inspection, and a tag is of a tool: flutelog tag %s", id, id[:of]))
			}
		}
		return err
	}
	tags, err := s.Tags(ids)
	if err != nil {
		return err
	}
	return p.write(e, "tag", ids[0], func(w io.Writer) error { return paper.WriteTags(w, tags) })
}

func certificateCommand() command.Command {
	var p paperFlags
	return command.Command{
		Name: "certificate", Args: "JOB",
		Summary: "write the certificate of a job, a row a tool, to print; or what it lacks to be one",
		Example: "certificate J-77 -o certificate.html",
		Flags: func(f *command.Flags) {
			p.flags(f, "file to write (default: standard output; at a terminal one named after it)")
		},
		Run: func(e command.Env, f *command.Flags) error { return p.certificate(e, f.Args[0]) },
	}
}

func (p *paperFlags) certificate(e command.Env, job string) error {
	s, err := p.source(e)
	if err != nil {
		return err
	}
	c, err := s.Certificate(job)
	if errors.Is(err, record.ErrNoJob) {
		return command.Usage(err)
	}
	if err != nil {
		return err
	}
	if err := p.write(e, "certificate", job, func(w io.Writer) error { return paper.WriteCertificate(w, c) }); err != nil || c.Condition == "" {
		return err
	}
	fmt.Fprintf(e.Stderr, "flutelog: %s\n", c.Condition)
	return command.StatusFallsShort
}
