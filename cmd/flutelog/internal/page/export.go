package page

import (
	"io"
	"net/http"
	"os"
	"time"

	"flutelog/cmd/internal/papers"
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

// tables sends what stands as CSV, with what each column holds and the tables of a database: of the tool of a closed
// inspection, of a tool, of a job, or of the whole ledger.
func (s *Server) tables(w http.ResponseWriter, r *http.Request) {
	of, name := tables.Of{Ledger: s.Ledger, Format: report.Format{Unit: s.Unit}}, "ledger"
	var err error
	switch id, tool, job := r.FormValue("id"), r.FormValue("tool"), r.FormValue("job"); {
	case id != "":
		var in record.Inspection
		in, err = record.Find(s.Ledger, id)
		of.Tool, name = in.Tool.ID, in.Tool.ID
	case tool != "":
		of.Tool, err = papers.Source{Ledger: s.Ledger}.ToolID(tool)
		name = of.Tool
	case job != "":
		var j record.JobStanding
		j, err = record.FindJob(s.Ledger, job)
		of.Job, name = j.ID, j.ID
	}
	if err != nil {
		s.refuse(w, r, statusOf(err), err)
		return
	}
	if err := sendFile(w, export.FileName(name, ".csv.zip"), "application/zip", of.Zip); err != nil {
		s.refuse(w, r, http.StatusInternalServerError, err)
	}
}

// sendFile sends a file as large as the ledger, which is not held in memory. On an error nothing is sent.
func sendFile(w http.ResponseWriter, name, kind string, write func(io.Writer) error) error {
	file, err := os.CreateTemp("", "flutelog-*")
	if err != nil {
		return err
	}
	defer os.Remove(file.Name())
	defer file.Close()
	if err := write(file); err != nil {
		return err
	}
	if _, err := file.Seek(0, io.SeekStart); err != nil {
		return err
	}
	http.NewResponseController(w).SetWriteDeadline(time.Now().Add(longAtMost))
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
	io.Copy(w, file) // who does not read it is gone
	return nil
}

// longAtMost is how long a file of a whole ledger may take to be read.
const longAtMost = 10 * time.Minute

func (s *Server) handOn(w http.ResponseWriter, r *http.Request, file export.File, err error) {
	if err != nil {
		s.refuse(w, r, statusOf(err), err)
		return
	}
	w.Header().Set("Content-Type", "application/xml; charset=utf-8")
	w.Header().Set("Content-Disposition", `attachment; filename="`+file.Name+`"`)
	w.Write(file.Content)
}
