//go:build unix

package report

import (
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// A cell as a spreadsheet took it.
type spreadsheetCell struct{ kind, value, text, formula string }

// A spreadsheet that opens the report, numbers and dates looked for as hard as it can, finds numbers where
// numbers are, ids and times as they are, and nothing to evaluate.
func TestInASpreadsheet(t *testing.T) {
	if _, err := exec.LookPath("soffice"); err != nil {
		if os.Getenv("FLUTELOG_TEST_NEEDS_ALL") != "" {
			t.Fatal("no soffice here, and it is required")
		}
		t.Skip("no soffice (Debian: libreoffice-calc) here to open the report with")
	}
	tool := inspect.Tool{
		ID: "EM-1", Diameter: length.Inch / 2, Flutes: 2, Material: inspect.HSS, Hand: inspect.RightHand,
		Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing,
	}
	in := inspect.Inspection{ID: "EM-1.1", Tool: tool, Stage: inspect.After, Job: "=1+1", Inspector: "@Jürgen Müßig", Holding: inspect.InFixture, Basis: inspect.DefaultBasis(tool)}
	rows := opened(t, in, []inspect.Reading{
		{Feature: inspect.RadialRunout, Flute: 1, Repeat: 1, Value: -3 * length.Tenth, Text: "-0.0003", Unit: length.In, Gauge: "-x", At: "2026-11-12T08:15:30.000000Z"},
		{Feature: inspect.RadialRunout, Flute: 2, Repeat: 1, Value: length.Tenth, Text: "+0.0001", Unit: length.In, Gauge: "-x", At: "2026-11-12T08:15:30.000000Z"},
	})
	if len(rows) != 3 {
		t.Fatalf("%d rows, want 3", len(rows))
	}
	for name, want := range map[string]spreadsheetCell{
		"inspection": {kind: "string", text: "EM-1.1"},
		"job":        {kind: "string", text: "'=1+1"},
		"inspector":  {kind: "string", text: "'@Jürgen Müßig"},
		"flute":      {kind: "float", value: "1", text: "1"},
		"value":      {kind: "float", value: "-0.0003", text: "-0.0003"},
		"as_read":    {kind: "float", value: "-0.0003", text: "-0.0003"},
		"unit":       {kind: "string", text: "[in_i]"},
		"gauge":      {kind: "string", text: "'-x"},
		"read_at":    {kind: "string", text: "2026-11-12T08:15:30.000000Z"},
	} {
		if got := rows[1][columnOf(t, name)]; got != want {
			t.Errorf("%s: got %+v, want %+v", name, got, want)
		}
	}
	if got := rows[1][columnOf(t, "read_at_utc")]; got.kind != "date" || got.value != "2026-11-12T08:15:30" {
		t.Errorf("read_at_utc: got %+v, want a date", got)
	}
	if got := rows[2][columnOf(t, "as_read")]; got.kind != "float" || got.value != "0.0001" {
		t.Errorf("as_read +0.0001: got %+v, want a number", got)
	}
	for _, row := range rows {
		for _, c := range row {
			if c.formula != "" {
				t.Errorf("a formula: %+v", c)
			}
		}
	}
}

func columnOf(t *testing.T, name string) int {
	t.Helper()
	for i, column := range Columns(ReadingRows) {
		if column == name {
			return i
		}
	}
	t.Fatalf("no column %q", name)
	return 0
}

// opened returns the rows of the readings report of one inspection as a spreadsheet takes them.
func opened(t *testing.T, in inspect.Inspection, readings []inspect.Reading) [][]spreadsheetCell {
	t.Helper()
	dir := t.TempDir()
	l, err := ledger.Open(filepath.Join(dir, "ledger"), ledger.Options{})
	if err != nil {
		t.Fatal(err)
	}
	events := []json.RawMessage{marshal(t, record.Event{What: "begun", Inspection: &in})}
	for _, r := range readings {
		events = append(events, marshal(t, record.Event{What: "reading", Reading: &r}))
	}
	d := record.Draft{Inspection: in}
	d.Inspection.Readings = readings
	entries, err := record.Close(d, events, inspect.Judgement{}, "2026-11-12T08:15:30.000000Z", "")
	if err == nil {
		_, err = l.Append(entries...)
	}
	if err != nil {
		t.Fatal(err)
	}
	f, err := os.Create(filepath.Join(dir, "readings.csv"))
	if err != nil {
		t.Fatal(err)
	}
	if err := ReadingsCSV(f, record.Readings(l, record.Filter{}), Format{Unit: length.In}); err != nil {
		t.Fatal(err)
	}
	f.Close()
	// comma, double quote, UTF-8, from line 1, English; quoted text is not forced to text, numbers and dates are looked for
	cmd := exec.Command("soffice", "-env:UserInstallation=file://"+dir+"/profile", "--headless", "--infilter=CSV:44,34,76,1,,1033,false,true", "--convert-to", "fods", "--outdir", dir, f.Name())
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	return readFlat(t, filepath.Join(dir, "readings.fods"))
}

// readFlat reads the cells of the first table of a flat OpenDocument spreadsheet.
func readFlat(t *testing.T, path string) [][]spreadsheetCell {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var rows [][]spreadsheetCell
	d := xml.NewDecoder(f)
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return rows
		}
		if err != nil {
			t.Fatal(err)
		}
		start, ok := token.(xml.StartElement)
		switch {
		case ok && start.Name.Local == "table-row":
			rows = append(rows, nil)
		case ok && start.Name.Local == "table-cell":
			var body struct {
				Text string `xml:"p"`
			}
			if err := d.DecodeElement(&body, &start); err != nil {
				t.Fatal(err)
			}
			c, repeated := cellOf(start.Attr)
			c.text = strings.TrimSpace(body.Text)
			for range repeated {
				rows[len(rows)-1] = append(rows[len(rows)-1], c)
			}
		}
	}
}

func cellOf(attrs []xml.Attr) (c spreadsheetCell, repeated int) {
	repeated = 1
	for _, a := range attrs {
		switch a.Name.Local {
		case "value-type":
			c.kind = a.Value
		case "value", "date-value":
			c.value = a.Value
		case "formula":
			c.formula = a.Value
		case "number-columns-repeated":
			repeated, _ = strconv.Atoi(a.Value)
		}
	}
	return c, repeated
}
