package page

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"flutelog/cmd/internal/look"
	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
)

// The board says what must not cut first, counts what waits, and leads to each; the kept ledger says what that is.
func TestBoard(t *testing.T) {
	r := kept(t)
	c := r.client()
	page := c.get("/").body
	stop, rest, _ := strings.Cut(page, `class="counts"`)
	for _, want := range []string{"Stop: 4 tools must not cut", `<bdi>EM-1</bdi> locked`, `<bdi>EM-3</bdi> locked`, `<bdi>EM-8</bdi> locked`, `<bdi>EM-5</bdi> recalled`} {
		if !strings.Contains(stop, want) {
			t.Errorf("%q does not stand first", want)
		}
	}
	for _, want := range []string{`<b>3</b><span>locked</span>`, `<b>1</b><span>half read</span>`, `href="/tool?id=MM-12"`, "sent out to coating", "calibration was due"} {
		if !strings.Contains(rest, want) {
			t.Errorf("%q is not on the board", want)
		}
	}
	if a := newRecorder(t, nil).client().get("/"); !strings.Contains(a.body, "received") {
		t.Errorf("the board of one new tool: %s", a.body)
	}
}

// Tools are found by a part of an id, a job, a customer or a standing; a whole id or a scanned tag opens the tool; what
// is not there offers what is near, and to add it. A list is cut, and says how many more there are.
func TestToolsAreFound(t *testing.T) {
	r := kept(t)
	c := r.client()
	for path, want := range map[string][]string{
		"/tools":                    {"11 tools", `href="/tool?id=EM-1"`, "1 more", "all 11"},
		"/tools?shown=50":           {`href="/tool?id=MM-12"`},
		"/tools?standing=withdrawn": {`href="/tool?id=EM-4"`},
		"/tools?q=J-1+conceded":     {"1 of 11 tools have", `href="/tool?id=EM-2"`},
		"/tools?q=mm-":              {"1 of 11", `<mark>MM-</mark>12`},
		"/tools?q=ME-12":            {"No tool has", `href="/tool?id=MM-12"`, `href="/add?id=ME-12"`},
		"/tools?q=EM-21":            {`href="/tool?id=EM-2"`},
	} {
		page := c.get(path).body
		for _, w := range want {
			if !strings.Contains(page, w) {
				t.Errorf("%s: no %q", path, w)
			}
		}
	}
	if page := c.get("/tools?standing=withdrawn").body; strings.Contains(page, `id=EM-2"`) {
		t.Error("a conceded tool stands among the withdrawn")
	}
	for _, typed := range []string{"em-4", "T.EM-4", "EM-4"} {
		if a := c.get("/tools?q=" + typed); a.path != "/tool" || !strings.Contains(a.body, "EM-4") {
			t.Errorf("%s: at %s", typed, a.path)
		}
	}
}

// Of ten thousand tools a page shows the first, in natural order, and finds one of them.
func TestTenThousandTools(t *testing.T) {
	if testing.Short() {
		t.Skip("adds 10,000 tools")
	}
	r := newRecorder(t, nil)
	tool := testTool
	for i := range 10 {
		var entries []ledger.Entry
		for j := range 1000 {
			tool.ID = fmt.Sprintf("EM-%d", 1000*i+j+1)
			body, err := json.Marshal(tool)
			if err != nil {
				t.Fatal(err)
			}
			entries = append(entries, ledger.Entry{Kind: record.KindTool, Subject: record.ToolSubject(tool.ID), Body: body})
		}
		if _, err := r.config.Ledger.Append(entries...); err != nil {
			t.Fatal(err)
		}
	}
	c := r.client()
	a := c.get("/tools")
	if a.status != http.StatusOK || strings.Count(a.body, `href="/tool?`) != look.FirstShown || !strings.Contains(a.body, "10,001 tools") {
		t.Errorf("status %d, %d tools shown", a.status, strings.Count(a.body, `href="/tool?`))
	}
	if i, j := strings.Index(a.body, `EM-2<`), strings.Index(a.body, `EM-10<`); i < 0 || i > j {
		t.Error("EM-10 stands before EM-2")
	}
	if a := c.get("/tools?q=9999"); !strings.Contains(a.body, "1 of 10,001") {
		t.Error("EM-9999 is not found")
	}
}

// Tables are handed on of a tool, of a job and of the whole ledger, each with what says what its columns hold.
func TestTablesOf(t *testing.T) {
	r := kept(t)
	c := r.client()
	for path, rows := range map[string]int{"/tables.zip?tool=em-2": 1, "/tables.zip?job=J-1": 4, "/tables.zip": 11} {
		a := c.get(path)
		z, err := zip.NewReader(strings.NewReader(a.body), int64(len(a.body)))
		if err != nil {
			t.Errorf("%s: status %d: %v", path, a.status, err)
			continue
		}
		f, err := z.Open("tools.csv")
		if err != nil {
			t.Fatal(err)
		}
		all, err := csv.NewReader(f).ReadAll()
		if err != nil || len(all) != rows+1 {
			t.Errorf("%s: %d lines of tools, want %d and a header (%v)", path, len(all), rows, err)
		}
		if _, err := z.Open("csv-metadata.json"); err != nil {
			t.Errorf("%s: %v", path, err)
		}
	}
	for _, path := range []string{"/tables.zip?tool=EM-77", "/tables.zip?job=J-77"} {
		if a := c.get(path); a.status != http.StatusNotFound {
			t.Errorf("%s: status %d", path, a.status)
		}
	}
}

// Of a damaged ledger the board, a job and the trends show all that can be read and say that some cannot, and so do the
// tables that are handed on.
func TestDamageIsFenced(t *testing.T) {
	r := kept(t)
	name := filepath.Join(r.config.Ledger.Dir(), "a709fbb294fea032", "000000000001.jsonl")
	segment, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	segment[bytes.IndexByte(segment, '\n')+60] ^= 1 // in the second line
	if err := os.WriteFile(name, segment, 0o600); err != nil {
		t.Fatal(err)
	}
	c := r.client()
	for _, path := range []string{"/", "/tools", "/trends"} {
		if a := c.get(path); a.status != http.StatusOK || !strings.Contains(a.body, "Part of the record cannot be read") {
			t.Errorf("%s: status %d, and nothing is said of the damage", path, a.status)
		}
	}
	if a := c.get("/report.csv?as=tools"); a.status != http.StatusUnprocessableEntity || !strings.Contains(a.body, "Part of the record cannot be read") || !strings.Contains(a.body, `name="damaged"`) {
		t.Errorf("a report: status %d, and it is not said first: %s", a.status, a.body)
	}
	if a := c.get("/report.csv?as=tools&damaged=yes"); a.status != http.StatusOK || !strings.HasPrefix(a.body, "tool,diameter,") || !strings.Contains(a.body, "\nMM-12,") {
		t.Errorf("the report of all else: status %d: %s", a.status, a.body)
	}
	a := c.get("/tables.zip")
	z, err := zip.NewReader(strings.NewReader(a.body), int64(len(a.body)))
	if err != nil {
		t.Fatalf("tables: status %d: %v", a.status, err)
	}
	for _, name := range []string{"damage.txt", "tools.csv", "csv-metadata.json"} {
		if _, err := z.Open(name); err != nil {
			t.Errorf("tables: %v", err)
		}
	}
}
