package page

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// regrinds records what many inspections after the grind came to, invented: each of two people reads with a gauge of
// their own, and one of them half a thou more on a tool.
func regrinds(t *testing.T, l *ledger.Ledger, n int) {
	t.Helper()
	for i := range n {
		who, gauge, tenths := "A. Vale", "indicator 2", 1+i/2%3
		if i%2 == 1 {
			who, gauge, tenths = "R. Moss", "indicator 5", 4+i/2%3
		}
		most := inspect.LengthQuantity(5 * length.Tenth)
		tir, err := json.Marshal(record.Figure{Value: inspect.LengthQuantity(length.Length(tenths) * length.Tenth), Most: &most, Gauge: gauge})
		if err != nil {
			t.Fatal(err)
		}
		f := record.Figures{Inspection: fmt.Sprintf("T-%d.1", i), Tool: fmt.Sprintf("T-%d", i), Stage: inspect.After, Inspector: who, Wheel: "cup " + fmt.Sprint(46+i%2*14), Closed: fmt.Sprintf("2026-09-%02dT10:00:00.000000Z", 1+i/3), TIR: tir}
		body, err := json.Marshal(f)
		if err != nil {
			t.Fatal(err)
		}
		subject := record.ToolSubject(f.Tool)
		if _, err := l.Append(ledger.Entry{Kind: record.KindSummary, Subject: subject, Body: []byte("{}")}, ledger.Entry{Kind: record.KindFigures, Subject: subject, Body: body, AboutBack: 1}); err != nil {
			t.Fatal(err)
		}
	}
}

// A trend is of one person, gauge or wheel, or of some days: what there is to choose stands on the page, and what was
// chosen in words; a person who reads two tenths more than another shows only so.
func TestTrendsOfAChoice(t *testing.T) {
	r := newRecorder(t, nil)
	regrinds(t, r.config.Ledger, 60)
	c := r.client()
	all := c.get("/trends").body
	for _, option := range []string{`value="A. Vale"`, `value="R. Moss"`, `value="indicator 2"`, `value="indicator 5"`, `value="cup 46"`, `value="cup 60"`} {
		if !strings.Contains(all, option) {
			t.Errorf("%s cannot be chosen", option)
		}
	}
	if strings.Contains(all, `name="bench"`) || strings.Contains(all, `name="material"`) {
		t.Error("what is all alike is asked for")
	}
	for path, want := range map[string]string{
		"/trends": "10 of 60 over the limit", "/trends?inspector=A.+Vale": "none of 30 over the limit", "/trends?inspector=R.+Moss": "10 of 30 over the limit",
		"/trends?gauge=indicator+5": "10 of 30 over the limit", "/trends?wheel=cup+46": "none of 30 over the limit", "/trends?since=2026-09-05&until=2026-09-06": "1 of 6 over the limit",
		"/trends?wheel=cup+46&gauge=indicator+5": "nothing read yet",
	} {
		if a := c.get(path); a.status != http.StatusOK || !strings.Contains(a.body, want) {
			t.Errorf("%s: status %d, not %q", path, a.status, want)
		}
	}
	if a := c.get("/trends?since=soon&tool=NO-1"); a.status == http.StatusOK || !strings.Contains(a.body, "want a day such as") || !strings.Contains(a.body, `id="wrong-tool"`) {
		t.Errorf("status %d, and a day and a tool that are none are not refused where they are asked", a.status)
	}
}

// The limits of a chart are kept from its page, of that choice alone, by whom is said; and they are let go again.
func TestLimitsAreKept(t *testing.T) {
	r := newRecorder(t, nil)
	regrinds(t, r.config.Ledger, 60)
	if a := r.client().get("/limits?what=tir&inspector=A.+Vale&since=2026-09-05"); a.status != http.StatusUnprocessableEntity || !strings.Contains(a.body, "limits are fixed from 30 points on") {
		t.Errorf("of too few: status %d: %s", a.status, a.body)
	}
	c := r.client()
	const of = "inspector=A.+Vale"
	if page := c.get("/trends?" + of).body; !strings.Contains(page, "/limits?"+of+"&amp;what=tir") {
		t.Fatalf("the limits cannot be kept: %s", page)
	}
	ask := c.get("/limits?what=tir&" + of)
	if ask.status != http.StatusOK || !strings.Contains(ask.body, "Keep the limits") || !strings.Contains(ask.body, "After the grind, inspector A. Vale") {
		t.Fatalf("status %d: %s", ask.status, ask.body)
	}
	form := c.fields("/limits?what=tir&" + of)
	form.Set("what", "tir")
	form.Set("inspector", "A. Vale")
	if a := c.post("/limits", form); a.status != http.StatusOK || a.path != "/trends" || !strings.Contains(a.body, "The limits were fixed on ") || !strings.Contains(a.body, "Compute its limits again") {
		t.Errorf("kept: status %d at %s", a.status, a.path)
	}
	for _, other := range []string{"/trends", "/trends?inspector=R.+Moss"} {
		if strings.Contains(c.get(other).body, "The limits were fixed") {
			t.Errorf("%s is held to them too", other)
		}
	}
	form.Set("let-go", "yes")
	if a := c.post("/limits", form); a.status != http.StatusOK || strings.Contains(a.body, "The limits were fixed") {
		t.Errorf("let go: status %d", a.status)
	}
}

// A report is loaded of one tool, inspection or job, as the command gives it; what the ledger has never heard of is
// refused at its field, and what was filled in stays.
func TestReportFromThePage(t *testing.T) {
	r := kept(t)
	c := r.client()
	for path, want := range map[string][3]string{ // the file, a row of it, and none of it
		"/report.csv?as=inspections&inspection=em-6.3":  {"EM-6.3-inspections.csv", "EM-6.3,EM-6,", "EM-6.1,"},
		"/report.csv?tool=EM-2":                         {"EM-2-readings.csv", "EM-2.1,EM-2,", "EM-5.1,"},
		"/report.csv?as=tools&job=J-1&standing=locked":  {"J-1-tools.csv", "\nEM-1,", "\nEM-2,"},
		"/report.csv?as=tools&unit=mm&decimal-comma=on": {"tools.csv", "EM-2;12,7;mm;", "EM-2,"},
		"/report.csv?until=2026-01-31":                  {"readings.csv", "bench,sequence,", "EM-"},
	} {
		a := c.get(path)
		if a.status != http.StatusOK || !strings.Contains(a.header.Get("Content-Disposition"), `"`+want[0]+`"`) || !strings.Contains(a.body, want[1]) || strings.Contains(a.body, want[2]) {
			t.Errorf("%s: status %d, %s: %s", path, a.status, a.header.Get("Content-Disposition"), a.body[:min(len(a.body), 2000)])
		}
	}
	for path, field := range map[string]string{
		"/report.csv?tool=EM-99": "tool", "/report.csv?job=J-99": "job", "/report.csv?inspection=EM-6.99": "inspection", "/report.csv?bench=abc": "bench", "/report.csv?since=soon": "since",
		"/report.csv?as=rows": "as", "/report.csv?stage=x": "stage",
	} {
		a := c.get(path + "&until=2026-11-30")
		if a.status != http.StatusUnprocessableEntity || !strings.Contains(a.body, `id="wrong-`+field+`"`) || !strings.Contains(a.body, `value="2026-11-30"`) {
			t.Errorf("%s: status %d, not refused at %s", path, a.status, field)
		}
	}
	for _, path := range []string{"/tool?id=EM-6", "/job?id=J-1", "/inspection?id=EM-6.3", "/tools", "/trends"} {
		if !strings.Contains(c.get(path).body, `href="/report`) {
			t.Errorf("%s leads to no report", path)
		}
	}
	if a := c.get("/report?" + url.Values{"inspection": {"EM-6.3"}, "as": {"inspections"}}.Encode()); !strings.Contains(a.body, `value="EM-6.3"`) || !strings.Contains(a.body, `<option value="inspections" selected>`) {
		t.Errorf("what was filled in is not there: %s", a.body)
	}
}
