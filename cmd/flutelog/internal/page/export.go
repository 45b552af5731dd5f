package page

import (
	"bytes"
	"net/http"

	"flutelog/cmd/internal/tables"
	"flutelog/inspect/export"
	"flutelog/inspect/record"
	"flutelog/inspect/report"
)

// results sends a closed inspection, as it stands, as measurement results for other software.
func (s *Server) results(w http.ResponseWriter, r *http.Request) {
	file, err := export.QIFFile(s.Ledger, r.FormValue("id"))
	s.handOn(w, r, file, err)
}

// asset sends the tool of a closed inspection as a cutting-tool asset.
func (s *Server) asset(w http.ResponseWriter, r *http.Request) {
	in, err := record.Find(s.Ledger, r.FormValue("id"))
	var file export.File
	if err == nil {
		file, err = export.AssetFile(s.Ledger, in.Tool.ID, false)
	}
	s.handOn(w, r, file, err)
}

// tables sends what stands of the tool of a closed inspection as CSV, with what each column holds and the tables of a database.
func (s *Server) tables(w http.ResponseWriter, r *http.Request) {
	in, err := record.Find(s.Ledger, r.FormValue("id"))
	if err != nil {
		s.refuse(w, r, statusOf(err), err)
		return
	}
	var archive bytes.Buffer
	if err := (tables.Of{Ledger: s.Ledger, Tool: in.Tool.ID, Format: report.Format{Unit: s.Unit}}).Zip(&archive); err != nil {
		s.refuse(w, r, statusOf(err), err)
		return
	}
	w.Header().Set("Content-Type", "application/zip")
	w.Header().Set("Content-Disposition", `attachment; filename="`+export.FileName(in.Tool.ID, ".csv.zip")+`"`)
	archive.WriteTo(w)
}

func (s *Server) handOn(w http.ResponseWriter, r *http.Request, file export.File, err error) {
	if err != nil {
		s.refuse(w, r, statusOf(err), err)
		return
	}
	w.Header().Set("Content-Type", "application/xml; charset=utf-8")
	w.Header().Set("Content-Disposition", `attachment; filename="`+file.Name+`"`)
	w.Write(file.Content)
}
