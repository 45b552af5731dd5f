package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// closedWith is the record of an inspection that came to some figures, about a summary that holds nothing.
func closedWith(tb testing.TB, f record.Figures) []ledger.Entry {
	tb.Helper()
	body, err := json.Marshal(f)
	if err != nil {
		tb.Fatal(err)
	}
	subject := record.ToolSubject(f.Tool)
	return []ledger.Entry{{Kind: record.KindSummary, Subject: subject, Body: []byte("{}")}, {Kind: record.KindFigures, Subject: subject, Body: body, AboutBack: 1}}
}

// written is a figure as it stands in the ledger.
func written(tb testing.TB, q inspect.Quantity) json.RawMessage {
	tb.Helper()
	text, err := json.Marshal(record.Figure{Value: q})
	if err != nil {
		tb.Fatal(err)
	}
	return text
}

// commandLine runs a command in a ledger and returns its status, and what it printed to both streams.
func commandLine(dir string, args ...string) (status command.Status, out, errs string) {
	var o, e bytes.Buffer
	status = run(command.Env{Stdin: strings.NewReader(""), Stdout: &o, Stderr: &e, Getenv: func(string) string { return "" }, Now: time.Now}, append(args, "--ledger", dir))
	return status, o.String(), e.String()
}

// invented regrinds: with the cup wheel each division takes 0.0021 in off the radius and every offset gives half a
// degree more than geometry says; the other wheel was used once.
func inventedRegrinds(t *testing.T, dir string) {
	l, err := ledger.Open(dir, ledger.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i := range 6 {
		f := record.Figures{Tool: fmt.Sprint("T", i), Nominal: length.Inch / 2, Stage: inspect.Before, Closed: "2026-01-02T03:04:05.000000Z"}
		before := 490 * length.Thou
		f.Diameter = written(t, inspect.LengthQuantity(before))
		entries := closedWith(t, f)
		f.Stage, f.Wheel, f.Divisions = inspect.After, "cup", i+2
		f.Diameter = written(t, inspect.LengthQuantity(before-2*length.Length(f.Divisions)*21*length.Tenth))
		set := length.Angle(7+i) * length.Degree
		offset := mustOffset(t, f.Nominal, set)
		f.Offset, f.Relief = &offset, written(t, inspect.AngleQuantity(set+length.Degree/2))
		if i == 5 {
			f.Wheel = "cone"
		}
		if _, err := l.Append(append(entries, closedWith(t, f)...)...); err != nil {
			t.Fatal(err)
		}
	}
}

func mustOffset(t *testing.T, diameter length.Length, relief length.Angle) length.Length {
	t.Helper()
	status, out, errs := commandLine(t.TempDir(), "setup", "--unit", "mm", "--angle", relief.String(), "--cutter", diameter.String(), "--json")
	var s struct {
		Rest json.Number `json:"tooth_rest_below"`
	}
	if err := json.Unmarshal([]byte(out), &s); status != 0 || err != nil {
		t.Fatalf("status %d, %v: %s", status, err, errs)
	}
	offset, err := length.Parse(s.Rest.String(), length.Mm)
	if err != nil {
		t.Fatal(err)
	}
	return offset
}

func TestLearned(t *testing.T) {
	dir := t.TempDir()
	inventedRegrinds(t, dir)
	stock := []string{"stock", "--unit", "in", "--primary", "0.012", "--land", "0.08", "--primary-angle", "8", "--secondary-angle", "16", "--rake", "5", "--division", "0.002", "--passes", "4"}
	setup := []string{"setup", "--unit", "in", "--angle", "9", "--cutter", "0.5"}
	for _, test := range []struct {
		name   string
		args   []string
		status command.Status
		want   string
	}{
		{"stock of one wheel", append(stock, "--learned", "--wheel", "cup"), 0, "divisions of the feed dial: 4, will remove 0.00840 in radially (95 % of grinds 0.00840 in to 0.00840 in), from 5 records"},
		{"stock for a program", append(stock, "--learned", "--json"), 0, `"learned":{"divisions":4,"removed":0.008400000,"lower":0.008400000,"upper":0.008400000,"records":6,"from_records":true,"note":"from 6 records"}`},
		{"stock of too few", append(stock, "--learned", "--wheel", "cone"), 0, "will remove 0.00810 in radially, too few records (1, 5 are needed): geometry used"},
		{"relief of one wheel", append(setup, "--learned"), 0, "this rest will give 9.50 deg (95 % of tools 9.50 to 9.50), from 6 records"},
		{"relief for a program", append(setup, "--learned", "--json"), 0, `"records":6,"from_records":true,"note":"from 6 records"}`},
		{"relief outside the records", []string{"setup", "--angle", "15", "--cutter", "0.5in", "--learned"}, 0, "this rest will give 15.00 deg, 6 records, all of offsets for 7"},
		{"wheel without learned", append(stock, "--wheel", "cup"), 2, "--wheel goes with --learned"},
		{"no cutter", []string{"setup", "--angle", "9", "--wheel", "4in", "--learned"}, 2, "--learned: give the cutter's diameter"},
	} {
		t.Run(test.name, func(t *testing.T) {
			status, out, errs := commandLine(dir, test.args...)
			if status != test.status || !strings.Contains(out+errs, test.want) {
				t.Errorf("status %d, want %d; %q is not in:\n%s%s", status, test.status, test.want, out, errs)
			}
		})
	}
}
