package report

import (
	"bufio"
	"io"
	"iter"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// Kind is what a row of a quality report is.
type Kind string

const (
	ReadingRows    Kind = "readings"    // a row a reading
	InspectionRows Kind = "inspections" // a row a finding; an inspection without one has a row of its own
	ToolRows       Kind = "tools"       // a row a tool, as it stands
)

// Format says how numbers and cells are written.
type Format struct {
	Unit         length.Unit // in or mm, of every length
	DecimalComma bool        // numbers with a comma, cells parted by semicolons
}

// ReadingsCSV, InspectionsCSV and ToolsCSV write a quality report as RFC 4180 asks: a header of stable names, CRLF, and
// quotes where they are needed. They hold one row's inspection at a time. What could not be read of a damaged ledger
// comes as an error among the rows: the others are still written, and the first such error returned.
//
// Times come twice: in RFC 3339, and as a spreadsheet reads them. Free text that a spreadsheet would evaluate
// gets an apostrophe before it; numbers never do. Units are UCUM codes.
func ReadingsCSV(w io.Writer, rows iter.Seq2[*record.Row, error], format Format) error {
	t := newTable(w, format)
	t.header(ReadingRows)
	for row, err := range rows {
		t.failed(err)
		if err == nil {
			t.reading(row)
		}
	}
	return t.end()
}

// InspectionsCSV is documented with ReadingsCSV: a row a finding; an inspection without one has a row of its own.
func InspectionsCSV(w io.Writer, inspections iter.Seq2[*record.Inspection, error], format Format) error {
	t := newTable(w, format)
	t.header(InspectionRows)
	for in, err := range inspections {
		t.failed(err)
		if err == nil {
			t.findings(in)
		}
	}
	return t.end()
}

// ToolsCSV is documented with ReadingsCSV: a row a tool, as it stands.
func ToolsCSV(w io.Writer, tools iter.Seq2[record.Tool, error], format Format) error {
	t := newTable(w, format)
	t.header(ToolRows)
	for tool, err := range tools {
		t.failed(err)
		if tool.ID != "" {
			t.tool(newToolRow(tool))
		}
	}
	return t.end()
}

// Columns returns the names of a report's columns, in order; nil for a kind that is not known.
func Columns(kind Kind) []string {
	var names []string
	switch kind {
	case ReadingRows:
		for _, c := range slices.Concat(inspectionColumns, readingColumns, standingColumns) {
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

// table writes rows of cells.
type table struct {
	buffer *bufio.Writer
	format Format
	comma  byte   // what parts the cells
	cells  []byte // of the row so far, each with a comma behind it
	kept   int    // how many bytes of them begin every row
	tail   []byte // what ends every row of an inspection
	err    error  // the first, of what was to be written or of writing
}

func newTable(w io.Writer, f Format) *table {
	out := &table{buffer: bufio.NewWriterSize(w, 64<<10), format: f, comma: ','}
	if f.DecimalComma {
		out.comma = ';'
	}
	return out
}

// header writes the names of the columns.
func (t *table) header(kind Kind) {
	for _, name := range Columns(kind) {
		t.word(name)
	}
	t.row()
}

// failed keeps the first error.
func (t *table) failed(err error) {
	if t.err == nil {
		t.err = err
	}
}

// end writes what is still held back.
func (t *table) end() error {
	t.failed(t.buffer.Flush())
	return t.err
}

// row writes the cells added since the last row, behind those that are kept.
func (t *table) row() {
	last := len(t.cells) - 1
	_, err := t.buffer.Write(append(t.cells[:last], "\r\n"...))
	t.failed(err)
	t.cells = t.cells[:t.kept]
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
