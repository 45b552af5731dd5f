// Package tables hands on what stands as CSV with all that a program needs to read it: the three reports, the metadata that says
// what each column holds, and the tables of a database that they are loaded into. Of a damaged ledger an archive holds all that can be
// read.
package tables

import (
	"archive/zip"
	"errors"
	"io"
	"strings"
	"time"

	"flutelog/inspect/export"
	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
	"flutelog/inspect/report"
)

// Of is what is handed on.
type Of struct {
	Ledger     *ledger.Ledger
	Tool, Job  string // only of this tool, of this job; "" for all
	Inspection string // only this one; "" for all
	Format     report.Format
}

// SQLName is the file with the tables of a database.
const SQLName = "tables.sql"

// Each gives the files one after another, to be written by write.
func (o Of) Each(write func(name string, content func(io.Writer) error) error) error {
	filter := record.Filter{Tool: o.Tool, Job: o.Job}
	of := filter // of readings and findings
	if o.Inspection != "" {
		in, err := record.Find(o.Ledger, o.Inspection)
		if err != nil {
			return err
		}
		of.Inspection, of.Bench = in.ID, in.Record.Bench
	}
	var all []export.CSV
	for _, kind := range []report.Kind{report.ReadingRows, report.InspectionRows, report.ToolRows} {
		name := string(kind) + ".csv"
		all = append(all, export.CSV{URL: name, Kind: string(kind), Columns: report.Columns(kind)})
		if kind == report.ToolRows {
			of = filter
		}
		if err := write(name, func(w io.Writer) error { return report.Write(w, o.Ledger, kind, of, o.Format) }); err != nil {
			return err
		}
	}
	described, err := export.Metadata(all, o.Format.DecimalComma)
	if err != nil {
		return err
	}
	loaded, err := export.SQL(all)
	if err != nil {
		return err
	}
	if err := write(export.MetadataOfAll, func(w io.Writer) error { _, err := w.Write(described); return err }); err != nil {
		return err
	}
	return write(SQLName, func(w io.Writer) error { _, err := io.WriteString(w, loaded); return err })
}

// DamageName is the file that says what of a damaged ledger could not be handed on.
const DamageName = "damage.txt"

// Zip writes the files as one archive, the same for the same records: its times are all of the first day that it can hold.
// Of a damaged ledger it holds all that can be read, and DamageName with what cannot.
func (o Of) Zip(w io.Writer) error {
	z := zip.NewWriter(w)
	put := func(name string, content func(io.Writer) error) error {
		f, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)})
		if err != nil {
			return err
		}
		return content(f)
	}
	var damage *ledger.DamageError
	err := o.Each(func(name string, content func(io.Writer) error) error {
		err := put(name, content)
		if errors.As(err, &damage) {
			return nil // the others are still written
		}
		return err
	})
	if err == nil && damage != nil {
		err = put(DamageName, func(w io.Writer) error { _, err := io.WriteString(w, damage.Error()+"\n"); return err })
	}
	if err != nil {
		return err
	}
	return z.Close()
}

// Same says whether two ids are of the same inspection of a tool, whichever bench either names behind an @.
func Same(a, b string) bool {
	a, _, _ = strings.Cut(a, "@")
	b, _, _ = strings.Cut(b, "@")
	return strings.EqualFold(a, b)
}
