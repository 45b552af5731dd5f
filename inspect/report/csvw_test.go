package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/big"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"flutelog/inspect"
	"flutelog/inspect/export"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// metadata is as much of CSV on the Web as we use, read back. Source: W3C, Metadata Vocabulary for Tabular Data, and Model
// for Tabular Data and Metadata on the Web, Recommendations of 17 December 2015.
type metadata struct {
	tableOf
	Dialect struct {
		Delimiter       string   `json:"delimiter"`
		QuoteChar       string   `json:"quoteChar"`
		Encoding        string   `json:"encoding"`
		LineTerminators []string `json:"lineTerminators"`
	} `json:"dialect"`
	Tables []tableOf `json:"tables"`
}

type tableOf struct {
	URL    string `json:"url"`
	Schema struct {
		Columns []struct {
			Name     string `json:"name"`
			Titles   string `json:"titles"`
			Required bool   `json:"required"`
			Datatype struct {
				Base      string          `json:"base"`
				Format    json.RawMessage `json:"format"`
				Minimum   *int64          `json:"minimum"`
				Maximum   *int64          `json:"maximum"`
				MinLength int             `json:"minLength"`
			} `json:"datatype"`
		} `json:"columns"`
		PrimaryKey  []string `json:"primaryKey"`
		ForeignKeys []struct {
			Column    string `json:"columnReference"`
			Reference struct {
				Resource string `json:"resource"`
				Column   string `json:"columnReference"`
			} `json:"reference"`
		} `json:"foreignKeys"`
	} `json:"tableSchema"`
}

// checkCSVW reads CSV files by their metadata alone and returns everything in which they are not what it says: their
// encoding, line ends, header, the datatype, bounds and format of every cell, what must not be empty, keys, and what
// refers to another file. It returns the rows it read, by file.
func checkCSVW(description []byte, files map[string][]byte) (rows map[string]int, wrong []string) {
	fail := func(format string, args ...any) { wrong = append(wrong, fmt.Sprintf(format, args...)) }
	var m metadata
	if err := json.Unmarshal(description, &m); err != nil {
		return nil, []string{err.Error()}
	}
	if m.Tables == nil {
		m.Tables = []tableOf{m.tableOf}
	}
	rows = map[string]int{}
	cells := map[string][]string{} // of the columns that are referred to, by file and name
	for _, t := range m.Tables {
		content := files[t.URL]
		if !utf8.Valid(content) || m.Dialect.Encoding != "utf-8" || !slices.Equal(m.Dialect.LineTerminators, []string{"\r\n"}) {
			fail("%s: not UTF-8, or said to be something else", t.URL)
		}
		if bytes.Count(content, []byte("\n")) != bytes.Count(content, []byte("\r\n")) {
			fail("%s: a line that does not end as it is said", t.URL)
		}
		r := csv.NewReader(bytes.NewReader(content))
		r.Comma = rune(m.Dialect.Delimiter[0])
		all, err := r.ReadAll()
		if err != nil || len(all) == 0 {
			fail("%s: %d rows, %v", t.URL, len(all), err)
			continue
		}
		rows[t.URL] = len(all) - 1
		var titles []string
		for _, c := range t.Schema.Columns {
			titles = append(titles, c.Titles)
		}
		if !slices.Equal(titles, all[0]) {
			fail("%s: header %q, and %q is described", t.URL, all[0], titles)
			continue
		}
		seen := map[string]bool{}
		for n, row := range all[1:] {
			key := ""
			for i, c := range t.Schema.Columns {
				cell := row[i]
				if slices.Contains(t.Schema.PrimaryKey, c.Name) {
					key += fmt.Sprintf("%q ", cell)
				}
				cells[t.URL+" "+c.Name] = append(cells[t.URL+" "+c.Name], cell)
				if cell == "" {
					if c.Required {
						fail("%s row %d: %s is empty", t.URL, n+1, c.Name)
					}
					continue
				}
				if err := cellIs(c.Datatype.Base, c.Datatype.Format, c.Datatype.Minimum, c.Datatype.Maximum, c.Datatype.MinLength, cell); err != nil {
					fail("%s row %d: %s %q: %v", t.URL, n+1, c.Name, cell, err)
				}
			}
			if seen[key] {
				fail("%s row %d: key %s a second time", t.URL, n+1, key)
			}
			seen[key] = true
		}
	}
	for _, t := range m.Tables {
		for _, k := range t.Schema.ForeignKeys {
			for n, cell := range cells[t.URL+" "+k.Column] {
				if !slices.Contains(cells[k.Reference.Resource+" "+k.Reference.Column], cell) {
					fail("%s row %d: %s %q is not in %s", t.URL, n+1, k.Column, cell, k.Reference.Resource)
				}
			}
		}
	}
	return rows, wrong
}

// cellIs says why a cell is not of its datatype, nil when it is. Source: Model for Tabular Data 6.4.
func cellIs(base string, format json.RawMessage, least, most *int64, minLength int, cell string) error {
	var text string
	var numeric struct{ DecimalChar string }
	if json.Unmarshal(format, &text) != nil {
		json.Unmarshal(format, &numeric)
	}
	switch base {
	case "string":
		if ok, err := regexp.MatchString("^(?:"+text+")$", cell); text != "" && (!ok || err != nil) {
			return fmt.Errorf("not of format %s, %v", text, err)
		}
		if utf8.RuneCountInString(cell) < minLength {
			return errors.New("too short")
		}
	case "boolean":
		if !slices.Contains(strings.Split(text, "|"), cell) {
			return errors.New("no truth value")
		}
	case "integer", "decimal":
		if numeric.DecimalChar != "" {
			if strings.Contains(cell, ".") {
				return errors.New("a point")
			}
			cell = strings.Replace(cell, numeric.DecimalChar, ".", 1)
		}
		pattern := `^[+-]?[0-9]+(\.[0-9]+)?$`
		if base == "integer" {
			pattern = `^[+-]?[0-9]+$`
		}
		n, ok := new(big.Rat).SetString(cell)
		if !ok || !regexp.MustCompile(pattern).MatchString(cell) {
			return errors.New("no " + base)
		}
		if least != nil && n.Cmp(big.NewRat(*least, 1)) < 0 || most != nil && n.Cmp(big.NewRat(*most, 1)) > 0 {
			return errors.New("out of its bounds")
		}
	default:
		layout := map[string]string{"dateTimeStamp": time.RFC3339Nano, "dateTime": time.DateTime, "date": time.DateOnly}[base]
		if base == "dateTime" && text != "yyyy-MM-dd HH:mm:ss" {
			return fmt.Errorf("format %q", text)
		}
		_, err := time.Parse(layout, cell)
		return err
	}
	return nil
}

// inventedTools is an invented ledger with its tools.
func inventedTools(t *testing.T, inspections int) *ledger.Ledger {
	t.Helper()
	l := inventedLedger(t, inspections)
	for i := range min(inspections, 4) {
		tool := inspect.Tool{
			ID: fmt.Sprintf("EM-%d", i), Diameter: length.Inch / 2, Flutes: 4, Material: inspect.HSS, Helix: 30 * length.Degree, Note: "=keep; \"shop A\", Müller",
			Hand: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing,
		}
		if _, err := l.Append(ledger.Entry{Kind: record.KindTool, Subject: record.ToolSubject(tool.ID), Body: marshal(t, tool)}); err != nil {
			t.Fatal(err)
		}
	}
	return l
}

// writeKind writes a report of a kind of the whole ledger.
func writeKind(w io.Writer, l *ledger.Ledger, kind Kind, format Format) error {
	switch kind {
	case ReadingRows:
		return ReadingsCSV(w, record.Readings(l, record.Filter{}), format)
	case InspectionRows:
		return InspectionsCSV(w, record.Inspections(l, record.Filter{}), format)
	}
	return ToolsCSV(w, record.Tools(l, record.Filter{}), format)
}

// described writes the three reports of a ledger and their metadata.
func described(t *testing.T, write func(kind Kind, format Format) []byte, comma bool) ([]byte, map[string][]byte) {
	t.Helper()
	files := map[string][]byte{}
	var all []export.CSV
	for _, kind := range []Kind{ReadingRows, InspectionRows, ToolRows} {
		name := string(kind) + ".csv"
		files[name] = write(kind, Format{Unit: length.In, DecimalComma: comma})
		all = append(all, export.CSV{URL: name, Kind: string(kind), Columns: Columns(kind)})
	}
	m, err := export.Metadata(all, comma)
	if err != nil {
		t.Fatal(err)
	}
	return m, files
}

// Every report is what its metadata says, with points and with commas.
func TestCSVW(t *testing.T) {
	l := inventedTools(t, 8)
	for _, comma := range []bool{false, true} {
		m, files := described(t, func(kind Kind, format Format) []byte {
			var out bytes.Buffer
			if err := writeKind(&out, l, kind, format); err != nil {
				t.Fatal(err)
			}
			return out.Bytes()
		}, comma)
		rows, wrong := checkCSVW(m, files)
		if len(wrong) > 0 || rows["readings.csv"] != 8*30 || rows["inspections.csv"] != 8 || rows["tools.csv"] != 4 {
			t.Errorf("comma %v: rows %v, wrong: %s", comma, rows, strings.Join(wrong[:min(len(wrong), 10)], "\n"))
		}
	}
}

// The reports of the kept ledger too, and their lengths in millimetres are the ledger's, to the picometre.
func TestCSVWOfTheKeptLedger(t *testing.T) {
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS("../../testdata/ledger-2")); err != nil {
		t.Fatal(err)
	}
	l, err := ledger.Open(dir, ledger.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, unit := range []length.Unit{length.Mm, length.In} {
		m, files := described(t, func(kind Kind, format Format) []byte {
			var out bytes.Buffer
			format.Unit = unit
			if err := writeKind(&out, l, kind, format); err != nil {
				t.Fatal(err)
			}
			return out.Bytes()
		}, false)
		if rows, wrong := checkCSVW(m, files); len(wrong) > 0 || rows["readings.csv"] < 100 {
			t.Errorf("%s: rows %v, wrong: %s", unit, rows, strings.Join(wrong[:min(len(wrong), 10)], "\n"))
		}
		if unit != length.Mm {
			continue
		}
		rows, err := csv.NewReader(bytes.NewReader(files["readings.csv"])).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		at := slices.Index(rows[0], "value")
		n := 1
		for r, err := range record.Readings(l, record.Filter{}) {
			if err != nil {
				t.Fatal(err)
			}
			if v, err := length.Parse(rows[n][at], length.Mm); err != nil || v != r.Reading.Value {
				t.Errorf("row %d: %s, %v, want %v", n, rows[n][at], err, r.Reading.Value)
			}
			n++
		}
	}
}

// The reader finds what it is for.
func TestCSVWFindsWhatIsBroken(t *testing.T) {
	l := inventedTools(t, 4)
	m, files := described(t, func(kind Kind, format Format) []byte {
		var out bytes.Buffer
		if err := writeKind(&out, l, kind, format); err != nil {
			t.Fatal(err)
		}
		return out.Bytes()
	}, false)
	for from, to := range map[string]string{
		"\r\n": "\n", "flute,": "Flute,", ",no,": ",maybe,", ",radial-runout,1,": ",radial-runout,one,", ",radial-runout,2,": ",radial-runout,-2,", ",after,": ",afterwards,",
		",radial-runout,3,,1,": ",radial-runout,2,,1,", "2026-01-01T": "2026-01-41T", "2026-01-01 ": "01.01.2026 ", ",EM-1,": ",EM-9,", "invented": "invent\xe9", ",0.00010,": ",,",
	} {
		broken := map[string][]byte{"inspections.csv": files["inspections.csv"], "tools.csv": files["tools.csv"]}
		broken["readings.csv"] = bytes.Replace(files["readings.csv"], []byte(from), []byte(to), 1)
		if _, wrong := checkCSVW(m, broken); bytes.Equal(broken["readings.csv"], files["readings.csv"]) || len(wrong) == 0 {
			t.Errorf("%q for %q is not found", to, from)
		}
	}
	if _, err := export.Metadata([]export.CSV{{URL: "x.csv", Kind: "tools", Columns: []string{"tool", "colour"}}}, false); err == nil {
		t.Error("a column that nothing is known of is described")
	}
}
