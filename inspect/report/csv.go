package report

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/session"
)

// Kind is what a row of a quality report is.
type Kind string

const (
	ReadingRows    Kind = "readings"    // a row a reading
	InspectionRows Kind = "inspections" // a row a finding; an inspection without one has a row of its own
	ToolRows       Kind = "tools"       // a row a tool, as it stands
)

// Filter says which inspections a report is of; an empty field is any.
type Filter struct {
	Tool, Job, Bench string // Bench is a bench's id
	Stage            inspect.Stage
	Verdict          inspect.Verdict
	From, To         time.Time // of closing; To is not included
}

func (f Filter) takes(bench, tool, job string, stage inspect.Stage, verdict inspect.Verdict, closed string) bool {
	switch {
	case f.Tool != "" && tool != f.Tool,
		f.Job != "" && job != f.Job,
		f.Bench != "" && bench != f.Bench,
		f.Stage != "" && stage != f.Stage,
		f.Verdict != "" && verdict != f.Verdict:
		return false
	}
	if f.From.IsZero() && f.To.IsZero() {
		return true
	}
	t, err := time.Parse(time.RFC3339, closed)
	return err == nil && !t.Before(f.From) && (f.To.IsZero() || t.Before(f.To))
}

func (f Filter) takesSummary(bench string, s session.Summary) bool {
	in := s.Inspection
	return f.takes(bench, in.Tool.ID, in.Job, in.Stage, s.Judgement.Verdict, s.Closed)
}

// Format says how numbers and cells are written.
type Format struct {
	Unit         length.Unit // in or mm, of every length
	DecimalComma bool        // numbers with a comma, cells parted by semicolons
}

// CSV writes a quality report as RFC 4180 asks: a header of stable names, CRLF, and quotes where they are
// needed. scan gives every record of the ledger, as ledger.Scan does, in order and one at a time, so that a
// report of any length needs the memory of one inspection. Where scan returns an error, such as damage it
// went on over, the report is still written, and the error returned.
//
// Times come twice: in RFC 3339, and as a spreadsheet reads them. Free text that a spreadsheet would evaluate
// gets an apostrophe before it; numbers never do. Units are UCUM codes.
func CSV(w io.Writer, kind Kind, scan func(func(ledger.Record) error) error, filter Filter, format Format) error {
	columns := Columns(kind)
	if columns == nil {
		return fmt.Errorf("report of %q: want readings, inspections or tools", kind)
	}
	out := newTable(w, format)
	for _, name := range columns {
		out.word(name)
	}
	if err := out.row(); err != nil {
		return err
	}
	each, finish := out.rows(kind, filter)
	err := scan(each)
	if err := finish(); err != nil {
		return err
	}
	if err := out.buffer.Flush(); err != nil {
		return err
	}
	return err
}

// Columns returns the names of a report's columns, in order; nil for a kind that is not known.
func Columns(kind Kind) []string {
	var names []string
	switch kind {
	case ReadingRows:
		for _, c := range slices.Concat(inspectionColumns, readingColumns) {
			names = append(names, c.name)
		}
	case InspectionRows:
		for _, c := range findingColumns {
			names = append(names, c.name)
		}
	case ToolRows:
		for _, c := range toolColumns {
			names = append(names, c.name)
		}
	}
	return names
}

// rows returns what takes each record, and what ends the report.
func (t *table) rows(kind Kind, f Filter) (each func(ledger.Record) error, finish func() error) {
	switch kind {
	case ReadingRows:
		return (&readingRows{table: t, filter: f, later: map[session.Question]bool{}}).take, func() error { return nil }
	case InspectionRows:
		return func(r ledger.Record) error { return t.findings(r, f) }, func() error { return nil }
	}
	tools := &toolRows{table: t, filter: f, rows: map[string]*toolRow{}}
	return tools.take, tools.write
}

// table writes rows of cells.
type table struct {
	buffer *bufio.Writer
	format Format
	comma  byte   // what parts the cells
	cells  []byte // of the row so far, each with a comma behind it
	kept   int    // how many bytes of them begin every row
}

func newTable(w io.Writer, f Format) *table {
	out := &table{buffer: bufio.NewWriterSize(w, 64<<10), format: f, comma: ','}
	if f.DecimalComma {
		out.comma = ';'
	}
	return out
}

// row writes the cells added since the last row, behind those that are kept.
func (t *table) row() error {
	last := len(t.cells) - 1
	_, err := t.buffer.Write(append(t.cells[:last], "\r\n"...))
	t.cells = t.cells[:t.kept]
	return err
}

// keep begins every row with the cells added since begin.
func (t *table) keep() { t.kept = len(t.cells) }

// begin keeps no cells any more.
func (t *table) begin() { t.cells, t.kept = t.cells[:0], 0 }

// cell adds a cell, in quotes where it needs them. It spells cells as encoding/csv does, in half the time.
func (t *table) cell(text string) {
	if t.needsQuotes(text) {
		text = `"` + inQuotes.Replace(text) + `"`
	}
	t.cells = append(t.cells, text...)
	t.cells = append(t.cells, t.comma)
}

var inQuotes = strings.NewReplacer(`"`, `""`, "\r", "", "\n", "\r\n")

func (t *table) needsQuotes(text string) bool {
	for i := range len(text) {
		switch text[i] {
		case t.comma, '"', '\r', '\n':
			return true
		}
	}
	first, _ := utf8.DecodeRuneInString(text)
	return unicode.IsSpace(first)
}

// A column adds what it holds in one of four ways, so that no column is guarded that should not be, or the
// other way round.

// word adds a word of ours, an id made by the program, or a time: nothing a person wrote.
func (t *table) word(text string) { t.cell(text) }

// revision adds what an inspection was judged by, without the path of the bench file.
func (t *table) revision(text string) { t.text(text[strings.LastIndexAny(text, `/\`)+1:]) }

// text adds what a person wrote.
func (t *table) text(text string) { t.cell(Guarded(text)) }

// Guarded returns what a person wrote with an apostrophe before what a spreadsheet would evaluate (CWE-1236).
func Guarded(text string) string {
	if text != "" && strings.ContainsAny(text[:1], "=+-@\t\r\n") {
		return "'" + text
	}
	return text
}

// number adds a decimal number.
func (t *table) number(digits string) {
	if t.format.DecimalComma {
		digits = strings.Replace(digits, ".", ",", 1)
	}
	t.cell(digits)
}

// length adds a length in the report's unit, without trailing zeros.
func (t *table) length(l length.Length) {
	t.number(trimmed(string(l.Number(t.format.Unit))))
}

func (t *table) lengthOr(l *length.Length) {
	if l == nil {
		t.word("")
		return
	}
	t.length(*l)
}

func (t *table) quantity(q *inspect.Quantity) {
	if q == nil {
		t.word("")
		return
	}
	t.number(trimmed(string(q.Number(t.format.Unit))))
}

// unitOf adds the UCUM code of the unit that quantities of one kind are in, of which any may be missing; where all are
// there is no unit either.
func (t *table) unitOf(qs ...*inspect.Quantity) {
	for _, q := range qs {
		if q != nil {
			t.word(q.UCUM(t.format.Unit))
			return
		}
	}
	t.word("")
}

// count adds a whole number; 0 stands for none.
func (t *table) count(n int) {
	if n == 0 {
		t.word("")
		return
	}
	t.number(strconv.Itoa(n))
}

func (t *table) probability(p *float64) {
	if p == nil {
		t.word("")
		return
	}
	t.number(inspect.FormatProbability(*p))
}

func trimmed(digits string) string {
	if !strings.Contains(digits, ".") {
		return digits
	}
	return strings.TrimSuffix(strings.TrimRight(digits, "0"), ".")
}

// sheetTime turns an RFC 3339 time into one that a spreadsheet takes for a time: no T, no Z, whole seconds.
func sheetTime(stamp string) string {
	if len(stamp) < len("2006-01-02T15:04:05") {
		return ""
	}
	return stamp[:10] + " " + stamp[11:19]
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

// unmarshal reads a record's body.
func unmarshal(r ledger.Record, v any) error {
	if err := json.Unmarshal(r.Body, v); err != nil {
		return recordError(r, err)
	}
	return nil
}

func recordError(r ledger.Record, err error) error {
	return fmt.Errorf("record %d of bench %s: %w", r.Seq, r.Bench, err)
}
