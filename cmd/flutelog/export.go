package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"flutelog/cmd/flutelog/internal/board"
	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/internal/tables"
	"flutelog/inspect/export"
	"flutelog/inspect/record"
	"flutelog/inspect/report"
)

// exportFlags are the flags of an export.
type exportFlags struct {
	command.Places
	command.Units
	as, out, job       string
	concession, comma  bool
	tool, inspectionID string // what the argument named
}

func exportCommand() command.Command {
	var x exportFlags
	return command.Command{
		Name: "export", Args: "[TOOL|INSPECTION]",
		Summary: "hand results on to other software: measurement results, a tool asset, CSV with its metadata",
		Example: "export EM-0412.1 --as qif -o handed-on",
		Flags:   x.flags,
		Run:     func(e command.Env, f *command.Flags) error { return x.run(e, f.Args) },
	}
}

func (x *exportFlags) flags(f *command.Flags) {
	f.WordVar(&x.as, "as", "", "qif: results by ISO 23952, a file for each inspection; mtconnect: a cutting-tool asset for each tool; csv: tables, their metadata and SQL to load them")
	f.StringVarP(&x.out, "output", "o", ".", "folder to write to, made where it is not there")
	f.StringVar(&x.job, "job", "", "in place of a tool or inspection, all tools of this job")
	f.BoolVar(&x.concession, "concession-available", false, "with mtconnect, a tool released by concession is AVAILABLE")
	f.BoolVar(&x.comma, "decimal-comma", false, "with csv, write decimal commas, and semicolons between cells")
	x.Places.Flags(f)
	f.WordVar(&x.Units.Name, "unit", "", "with csv, unit of lengths, in or mm (default: the bench file's)")
}

func (x *exportFlags) run(e command.Env, args []string) error {
	if (len(args) == 1) == (x.job != "") {
		return command.Usagef("name a tool or an inspection, or else a job with --job")
	}
	if x.as != "qif" && x.as != "mtconnect" && x.as != "csv" {
		return command.Usagef("--as %q: want qif, mtconnect or csv", x.as)
	}
	at, err := x.OpenIn(e, &x.Units)
	if err != nil {
		return err
	}
	tools, err := x.named(at, args)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(x.out, 0o700); err != nil {
		return err
	}
	switch x.as {
	case "csv":
		return x.tables(e, at)
	case "mtconnect":
		return x.each(e, tools, func(tool record.Tool) ([]export.File, error) {
			if ids := export.Inspections(tool, ""); x.inspectionID != "" && len(ids) > 0 && !tables.Same(ids[len(ids)-1], x.inspectionID) {
				return nil, command.Usagef("an asset is of the tool as it stands now, and its newest inspection is %s; export %s", ids[len(ids)-1], tool.ID)
			}
			file, err := export.AssetFile(at.Ledger, tool.ID, x.concession)
			return []export.File{file}, err
		})
	}
	return x.each(e, tools, func(tool record.Tool) ([]export.File, error) {
		ids := export.Inspections(tool, x.job)
		if x.inspectionID != "" {
			ids = []string{x.inspectionID}
		}
		var files []export.File
		for _, id := range ids {
			file, err := export.QIFFile(at.Ledger, id)
			if err != nil {
				return files, err
			}
			files = append(files, file)
		}
		if len(files) == 0 {
			return nil, fmt.Errorf("tool %s: %w", tool.ID, export.ErrNotInspected)
		}
		return files, nil
	})
}

// named finds what is to be exported, and whose tools that is of.
func (x *exportFlags) named(at command.Opened, args []string) ([]record.Tool, error) {
	x.tool, x.inspectionID = "", ""
	if x.job != "" {
		job, err := record.FindJob(at.Ledger, x.job)
		if errors.Is(err, record.ErrNoJob) {
			return nil, command.Usage(err)
		}
		if err != nil {
			return nil, err
		}
		var tools []record.Tool
		for _, of := range job.Of {
			tool, err := record.FindTool(at.Ledger, of.Tool)
			if err != nil {
				return nil, err
			}
			if of.Inspection != "" {
				tools = append(tools, tool)
			}
		}
		if len(tools) == 0 {
			return nil, fmt.Errorf("job %s: none of its tools has a closed inspection", x.job)
		}
		return tools, nil
	}
	tool, err := record.FindTool(at.Ledger, args[0])
	if err == nil || !errors.Is(err, record.ErrNoTool) {
		x.tool = tool.ID
		return []record.Tool{tool}, err
	}
	in, err := record.Find(at.Ledger, args[0])
	if id, tagged := strings.CutPrefix(args[0], board.TagPrefix); tagged && errors.Is(err, record.ErrNoInspection) {
		if tool, failed := record.FindTool(at.Ledger, id); !errors.Is(failed, record.ErrNoTool) {
			x.tool = tool.ID
			return []record.Tool{tool}, failed
		}
	}
	if errors.Is(err, record.ErrNoInspection) {
		return nil, command.Hint(command.Usagef("%q is neither a tool nor a closed inspection of the ledger", args[0]), "flutelog tool list and flutelog history TOOL list them")
	}
	if err != nil {
		return nil, err
	}
	x.tool, x.inspectionID = in.Tool.ID, args[0]
	tool, err = record.FindTool(at.Ledger, in.Tool.ID)
	return []record.Tool{tool}, err
}

// each writes the files of one tool after another. One that cannot be handed on keeps back no other.
func (x *exportFlags) each(e command.Env, tools []record.Tool, files func(record.Tool) ([]export.File, error)) error {
	var failed error
	for _, tool := range tools {
		all, err := files(tool)
		failed = errors.Join(failed, err)
		if err != nil {
			continue
		}
		for _, file := range all {
			if err := x.write(e, file.Name, func(w io.Writer) error { _, err := w.Write(file.Content); return err }); err != nil {
				return err
			}
		}
	}
	return failed
}

func (x *exportFlags) write(e command.Env, name string, write func(io.Writer) error) error {
	path := filepath.Join(x.out, name)
	if err := command.WriteWhole(e, path, write); err != nil {
		return err
	}
	fmt.Fprintln(e.Stdout, path)
	return nil
}

// tables writes the three reports, their metadata, and the tables of a database that they are loaded into.
func (x *exportFlags) tables(e command.Env, at command.Opened) error {
	of := tables.Of{Ledger: at.Ledger, Tool: x.tool, Job: x.job, Inspection: x.inspectionID, Format: report.Format{Unit: at.Unit, DecimalComma: x.comma}}
	return of.Each(func(name string, content func(io.Writer) error) error { return x.write(e, name, content) })
}
