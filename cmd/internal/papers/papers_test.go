package papers

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/mark"
	"flutelog/inspect/paper"
	"flutelog/inspect/record"
	"flutelog/inspect/statistics"
	"flutelog/inspect/trend"
	"flutelog/inspect/words"
)

// noRelease are the kinds of the twenty of which nothing may look like a release.
var noRelease = []string{"before", "between", "unsigned", "undecided", "rejected", "conceded", "recalled", "locked", "withdrawn", "practice"}

var release = regexp.MustCompile(`(?i)releas`)

// body is a document without its style.
func body(document string) string {
	_, after, _ := strings.Cut(document, "</style>")
	return after
}

func written(t *testing.T, write func(*bytes.Buffer) error) string {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func tagsOf(t *testing.T, s Source, ids ...string) (paper.Tags, string) {
	t.Helper()
	tags, err := s.Tags(ids)
	if err != nil {
		t.Fatal(err)
	}
	return tags, written(t, func(b *bytes.Buffer) error { return paper.WriteTags(b, tags) })
}

func sheetOf(t *testing.T, s Source, id string) (paper.Sheet, string) {
	t.Helper()
	sheet, err := s.Sheet(id)
	if err != nil {
		t.Fatal(err)
	}
	return sheet, written(t, func(b *bytes.Buffer) error { return paper.WriteSheet(b, sheet) })
}

func certificateOf(t *testing.T, s Source, job string) (paper.Certificate, string) {
	t.Helper()
	c, err := s.Certificate(job)
	if err != nil {
		t.Fatal(err)
	}
	return c, written(t, func(b *bytes.Buffer) error { return paper.WriteCertificate(b, c) })
}

// Twenty tools and rulings: what each tag, sheet and row says, and that nothing looks like a release that is none.
func TestTwenty(t *testing.T) {
	b, inspections := shop(t)
	s := b.source()
	c, _ := certificateOf(t, s, "J-77")
	rows := map[string]paper.CertificateRow{}
	for _, r := range c.Rows {
		rows[r.Tool] = r
	}
	for _, x := range twenty {
		t.Run(x.kind, func(t *testing.T) {
			tags, document := tagsOf(t, s, x.tool)
			tag, row := tags.Tags[0], rows[x.tool]
			if !strings.Contains(document, "</svg><h2 class=\"\">"+x.headline) && !strings.Contains(document, "long\">"+x.headline) && !strings.Contains(document, "longest\">"+x.headline) {
				t.Errorf("the tag is headed %q, want %q", tag.Ruling.Word, x.headline)
			}
			if tag.Ruling.Go() != x.free || row.Ruling.Go() != x.free || strings.Contains(document, `class="cut tag go"`) != x.free {
				t.Errorf("looks like a release: tag %v, row %v", tag.Ruling.Go(), row.Ruling.Go())
			}
			held := slices.Contains(noRelease, x.kind)
			if held && release.MatchString(body(document)) {
				t.Errorf("the tag speaks of a release: %s", body(document))
			}
			if held && release.MatchString(row.Ruling.Word+row.Ruling.Short+row.Note) {
				t.Errorf("the row speaks of a release: %+v", row)
			}
			// A condition stands in the row whole, in the cell or under it.
			if row.Ruling.Usable() && !row.Ruling.Go() && !strings.Contains(row.Ruling.Cell()+row.Note, tag.Ruling.Word) {
				t.Errorf("the row does not say %q: %+v", tag.Ruling.Word, row)
			}
			id := inspections[x.kind]
			if id == "" {
				return
			}
			sheet, document := sheetOf(t, s, id)
			if sheet.Ruling.Go() != x.free {
				t.Errorf("the sheet looks like a release: %v", sheet.Ruling)
			}
			if held && release.MatchString(body(document)) {
				t.Errorf("the sheet speaks of a release: %s", regexp.MustCompile(`(?i).{40}releas.{40}`).FindString(body(document)))
			}
			// The sheet of the inspection before the grind is never the one that releases.
			if before := x.tool + ".1"; x.free && before != id {
				if sheet, _ := sheetOf(t, s, before); sheet.Ruling.Go() || sheet.Ruling.Usable() {
					t.Errorf("the sheet before the grind is headed %v", sheet.Ruling)
				}
			}
		})
	}
}

// What a machinist enters: half the diameter, and what changed since the tool was last let out; by hand 0.4817/2 is
// 0.24085, from 0.4876 it is 0.0059 less, and from the concession at 0.4817 to 0.4750 it is 0.0067, whatever was read
// when it came in again.
func TestTagSaysWhatToEnter(t *testing.T) {
	b, _ := shop(t)
	tags, _ := tagsOf(t, b.source(), "EM-0412", "EM-0500", "EM-0416")
	for i, want := range []paper.Tag{
		{Diameter: "0.4817 in", Radius: "0.24085", Change: "\u22120.0059 dia., \u22120.0020 long", Smallest: "0.4500", Foot: "signed by N. Okafor 20 Nov 2026"},
		{Diameter: "0.4750 in", Radius: "0.2375", Change: "\u22120.0067 dia., \u22120.0020 long", Smallest: "0.4500", Foot: "signed by N. Okafor 20 Nov 2026"},
		{Diameter: "0.4817 in", Radius: "0.24085", Change: "\u22120.0059 dia., \u22120.0020 long", Smallest: "0.4500", Foot: "signed by N. Okafor 20 Nov 2026"},
	} {
		got := tags.Tags[i]
		if got.Diameter != want.Diameter || got.Radius != want.Radius || got.Change != want.Change || got.Smallest != want.Smallest || got.Foot != want.Foot {
			t.Errorf("%s: got %+v, want %+v", got.Tool, got, want)
		}
	}
	s := b.source()
	s.Unit = length.Mm
	metric, _ := tagsOf(t, s, "EM-0412")
	if got := metric.Tags[0]; got.Diameter != "12.2352 mm" || got.Radius != "6.1176" { // 0.4817 in is 12.23518 mm, by hand
		t.Errorf("in millimetres: %s, radius %s", got.Diameter, got.Radius)
	}
}

// Who may use a tool on a condition is told all that does not conform, not only what decided.
func TestConcededTellsAllThatFails(t *testing.T) {
	b := newBench(t)
	x := good(4)
	x.runout[2], x.diameter, x.job = 0.0030, 0.4455, "J-1"
	tool := b.add("EM-1", 4)
	_, err := record.SaveJob(b.l, record.Job{ID: "J-1", Quantity: 1, Sample: 1, Tools: []string{"EM-1"}}, b.now)
	b.must(err)
	id := regrind(b, tool, x)
	b.rule(id, record.Concession, "use for roughing only")
	tags, _ := tagsOf(t, b.source(), "EM-1")
	c, _ := certificateOf(t, b.source(), "J-1")
	for where, text := range map[string]string{"tag": tags.Tags[0].Ruling.Under, "certificate": c.Rows[0].Note} {
		for _, want := range []string{"radial run-out (TIR) 0.0030, 0.0005 at most", "diameter 0.4455, 0.4500 at least"} {
			if strings.Count(text, want) != 1 {
				t.Errorf("%s: %q tells %q %d times", where, text, want, strings.Count(text, want))
			}
		}
	}
}

// A corrected diameter is the one on tag, sheet and certificate, and the sheet says what it was, who put it right and why.
func TestPapersAreOfWhatStands(t *testing.T) {
	b := newBench(t)
	tool := b.add("EM-0412", 4)
	_, err := record.SaveJob(b.l, record.Job{ID: "J-1", Quantity: 1, Sample: 1, Tools: []string{tool.ID}}, b.now)
	b.must(err)
	x := good(4)
	x.job = "J-1"
	id := regrind(b, tool, x)
	in, err := record.Find(b.l, id)
	b.must(err)
	for _, r := range in.Readings {
		if r.Feature == inspect.Diameter {
			r.Value, r.Text = inches(0.4717), "0.4717"
			_, err := record.Correct(b.l, id, record.Fix{Reading: &r}, b.who("read the wrong line"))
			b.must(err)
		}
	}
	b.rule(id, record.Release, "")
	s := b.source()
	tags, _ := tagsOf(t, s, tool.ID)
	if got := tags.Tags[0]; got.Diameter != "0.4717 in" || got.Radius != "0.23585" || got.Change != "\u22120.0159 dia., \u22120.0020 long" {
		t.Errorf("tag: %+v", got)
	}
	sheet, document := sheetOf(t, s, id)
	for _, want := range []string{"0.4717 in", "was 0.48170 in", "N. Okafor", "read the wrong line", "0.4717\u2020"} {
		if !strings.Contains(document, want) {
			t.Errorf("sheet: no %q", want)
		}
	}
	newest, err := record.Find(b.l, id)
	b.must(err)
	if want := fmt.Sprintf("%s-%d-%.16s", newest.Newest.Bench, newest.Newest.Seq, newest.Newest.Hash); sheet.Proof.Head != want || newest.Newest.Seq <= in.Newest.Seq {
		t.Errorf("sheet: head %s, want %s, which is of the ruling", sheet.Proof.Head, want)
	}
	c, _ := certificateOf(t, s, "J-1")
	if got := c.Rows[0]; got.Diameter != "0.4717" || !strings.Contains(got.Note, "read the wrong line") {
		t.Errorf("certificate: %+v", got)
	}
}

// The certificate says what was found, done and left; what a tool lacks; and is none before the job is signed.
func TestCertificate(t *testing.T) {
	b, _ := shop(t)
	c, document := certificateOf(t, b.source(), "J-77")
	row := slices.IndexFunc(c.Rows, func(r paper.CertificateRow) bool { return r.Tool == "EM-0412" })
	got := c.Rows[row]
	got.Ruling, got.Relief, got.TIRUncertainty = paper.Ruling{}, "", ""
	if want := (paper.CertificateRow{
		Tool: "EM-0412", What: "1/2 \u00d7 4, HSS", FoundWear: "0.0110", FoundTIR: "0.0001", FoundDiameter: "0.4876", Faces: "primary, secondary", Divisions: "2",
		TIR: "0.0001", Share: "0.24", Diameter: "0.4817", Length: "3.2480", Note: "by N. Okafor, 20 November 2026",
	}); got != want {
		t.Errorf("row:\n got %+v\nwant %+v", got, want)
	}
	// of a tool that may be used on a condition it says what does not conform, beside the condition
	for _, id := range []string{"EM-0416", "EM-0419"} {
		i := slices.IndexFunc(c.Rows, func(r paper.CertificateRow) bool { return r.Tool == id })
		if i < 0 || !strings.Contains(c.Rows[i].Note, "does not conform: radial run-out (TIR) 0.0015, 0.0005 at most") {
			t.Errorf("%s: the certificate does not say what does not conform", id)
		}
	}
	for _, want := range []string{"State of job", "20 end mills received 20 November 2026, ", "No certificate yet: ", "Harrow Tool Hire", "4500123", "5 released", "1 locked", "EM-0377", "corrected", "Nothing after the grind: EM-0401", "common practice", "revision defaults",
		"Indicator no. 17, step 0.00005, calibration due 3 June 2027", "R. Vale", "read in the fixture or the vee", "Received, name and date"} {
		if !strings.Contains(document, want) {
			t.Errorf("no %q", want)
		}
	}
	if c.Practice {
		t.Error("one practice tool makes all of the certificate invented")
	}
}

// The deciding flute is drawn as it was measured: its relief follows from its drop by the formula of a flat facet turned
// under the indicator, worked out here anew.
func TestDrawnAsMeasured(t *testing.T) {
	b := newBench(t)
	tool := b.add("EM-1", 4)
	x := good(4)
	x.runout = []float64{0, 0.0001, 0.0012, 0.0001}
	id := regrind(b, tool, x)
	in, err := record.Find(b.l, id)
	b.must(err)
	sheet, _ := sheetOf(t, b.source(), id)
	if len(sheet.Drawings) < 2 {
		t.Fatalf("%d drawings", len(sheet.Drawings))
	}
	if got := sheet.Drawings[0].Caption; !strings.Contains(got, "(TIR) at 0.50, seen") || !strings.Contains(got, "flutes 1 and 3, ringed, stand furthest apart: 0.0012") {
		t.Errorf("end view: %s", got)
	}
	s, r, d := in.CheckingDistance().Micrometres()/25400, 0.4817/2, 0.002625
	theta := s / r
	angle := math.Atan((r-(r-d)*math.Cos(theta))/((r-d)*math.Sin(theta))) * 180 / math.Pi
	if want := fmt.Sprintf("primary 0.01855 at %.1f\u00b0, land 0.0780", angle); !strings.Contains(sheet.Drawings[1].Caption, want) {
		t.Errorf("section: %s; want %s", sheet.Drawings[1].Caption, want)
	}
	if !strings.Contains(sheet.Drawings[1].Caption, "dashed is not measured") {
		t.Errorf("section: the secondary was not measured: %s", sheet.Drawings[1].Caption)
	}
}

// What a bench does not read at all stands on sheet, tag and certificate.
func TestNotReadAtThisBench(t *testing.T) {
	b := newBench(t)
	tool := b.add("EM-1", 4)
	b.required = []inspect.Item{inspect.Item(inspect.RadialRunout), inspect.Item(inspect.Cracks), inspect.Item(inspect.Burn)}
	_, err := record.SaveJob(b.l, record.Job{ID: "J-1", Quantity: 1, Sample: 1, Tools: []string{tool.ID}}, b.now)
	b.must(err)
	x := good(4)
	x.job, x.diameter = "J-1", 0
	id := regrind(b, tool, x)
	b.rule(id, record.Release, "")
	s := b.source()
	_, tag := tagsOf(t, s, tool.ID)
	_, sheet := sheetOf(t, s, id)
	_, certificate := certificateOf(t, s, "J-1")
	for paper, document := range map[string]string{"tag": tag, "sheet": sheet, "certificate": certificate} {
		if text := body(document); !strings.Contains(text, "Not read at this bench: ") || !strings.Contains(text, "diameter") {
			t.Errorf("the %s does not say what is not read here", paper)
		}
	}
}

// Twelve flutes and four alike: every reading stands on the sheet, and what was seen stands before what was not.
func TestSheetHoldsEveryReading(t *testing.T) {
	b := newBench(t)
	tool := b.add("EM-12", 12)
	x := good(12)
	x.seen = inspect.ChippedEdge
	id := regrind(b, tool, x)
	in, err := record.Find(b.l, id)
	b.must(err)
	sheet, _ := sheetOf(t, b.source(), id)
	cells := 0
	for _, r := range sheet.Readings {
		for _, c := range r.Cells {
			if c.Text != "" {
				cells++
			}
		}
	}
	if cells != len(in.Readings) {
		t.Errorf("%d cells of %d readings", cells, len(in.Readings))
	}
	if len(sheet.Sights) != 2 || sheet.Sights[0] != "Seen: chipped edge of flute 2." || strings.Contains(sheet.Sights[1], "chipped edge") {
		t.Errorf("sights: %q", sheet.Sights)
	}
}

// What papers say of rules and limits is what was done: each figure by its own rule, and no limit of what nobody read.
func TestPapersNameTheRuleOfEachFigure(t *testing.T) {
	b := newBench(t)
	tool := b.add("EM-4", 4)
	id := regrind(b, tool, good(4))
	s := b.source()
	in, err := record.Find(b.l, id)
	b.must(err)
	sheet, _ := sheetOf(t, s, id)
	how, limits := strings.Join(sheet.How, " "), s.limits(&in)
	for _, text := range []string{how, limits} {
		guarded, simple, found := strings.Cut(text, "; by the simple rule, ")
		if _, guarded, _ = strings.Cut(guarded, "By the guarded rule, "); !found {
			t.Fatalf("no rules in %q", text)
		}
		for _, f := range in.Judgement.Findings {
			if name := words.Figure(f.Feature); judged(f) && (strings.Contains(guarded, name) != (f.Rule == statistics.Guarded) || strings.Contains(simple, name) != (f.Rule == statistics.Simple)) {
				t.Errorf("%s was judged by the %s rule: %q", name, f.Rule, text)
			}
		}
	}
	if strings.Contains(limits, "shank run-out") || strings.Contains(limits, "taper") || !strings.Contains(limits, "radial run-out") {
		t.Errorf("limits of what was read: %q", limits)
	}
	if got := s.limits(&record.Inspection{}); got != "" {
		t.Errorf("limits where nothing was read: %q", got)
	}
}

// A recalled sheet says that whoever signed it signed for use, and that it does not stand; a correction is told in the words of
// the trade.
func TestRecalledSaysSo(t *testing.T) {
	b, inspections := shop(t)
	id := inspections["recalled"]
	sheet, _ := sheetOf(t, b.source(), id)
	text := strings.Join(sheet.How, " ") + " " + sheet.Signed[1].Who
	if strings.Count(text, "recalled since") != 2 || !strings.Contains(text, "signed for use by") {
		t.Errorf("the sheet says: %q", text)
	}
	for _, c := range sheet.Corrections {
		if !strings.Contains(c, ", flute ") || !strings.Contains(c, ", round ") || strings.Contains(c, "repeat") {
			t.Errorf("correction: %q", c)
		}
	}
	if len(sheet.Corrections) == 0 {
		t.Error("no correction")
	}
}

func TestUnknownIDs(t *testing.T) {
	b := newBench(t)
	s := b.source()
	if _, err := s.Tags([]string{"EM-1"}); err == nil {
		t.Error("a tag of no tool")
	}
	if _, err := s.Sheet("EM-1.1"); err == nil {
		t.Error("a sheet of no inspection")
	}
	if _, err := s.Certificate("J-1"); err == nil {
		t.Error("a certificate of no job")
	}
}

// A tool's life by hand: 0.4876 new here, 0.4800 when it came back after its first regrind, 0.4750 after its second; by
// 0.0063 a regrind, their mean, 0.0250 down to 0.4500 is three more, and two regrinds say nothing of how they scatter. Its run-outs were 0.0015, conceded, and 0.0001.
func TestLives(t *testing.T) {
	b, _ := shop(t)
	tool, err := record.FindTool(b.l, "EM-0500")
	b.must(err)
	charts := b.source().Lives(tool.Inspections, true)
	if len(charts) != 3 {
		t.Fatalf("%d charts", len(charts))
	}
	if got, want := charts[0].Sentence, "Life: 0.4750 in after 2 released regrinds, smallest useful 0.4500; about 3 regrinds left, by too few for more than that"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	tir := charts[1]
	if !strings.Contains(tir.Sentence, "1 of 2 over the limit") || len(tir.Points) != 1 || tir.Points[0].Name != "EM-0500.2" || !strings.Contains(string(tir.Drawing.SVG), "limit 0.00050") {
		t.Errorf("run-outs: %q, %v", tir.Sentence, tir.Points)
	}
	practice, err := record.FindTool(b.l, "PR-0001")
	b.must(err)
	if got := b.source().Lives(practice.Inspections, true); len(got) != 1 || got[0].Drawing.SVG != "" {
		t.Errorf("readings of a practice gauge are charted: %v", got)
	}
}

// Of eight values, by hand one is over its limit and one undecided: each is drawn as its mark and named, and the others are
// dots. From eight on it is said that there is no signal; of seven it is not.
func TestUndecidedIsMarked(t *testing.T) {
	most := 0.0005
	s := Series{Title: "Run-out", Unit: "in", Decimals: 5, Least: new(float64)}
	a, err := trend.NewSkewed(30)
	if err != nil {
		t.Fatal(err)
	}
	for i, x := range []float64{0.0002, 0.0003, 0.00048, 0.0002, 0.0006, 0.0003, 0.0002, 0.0003} {
		s.Values = append(s.Values, Value{Number: x, Inspection: fmt.Sprintf("EM-%d.1", i+1), Closed: fmt.Sprintf("2026-03-%02dT08:00:00Z", i+2), Most: &most, Undecided: i == 2})
		if err := a.Add(x); err != nil {
			t.Fatal(err)
		}
		if i < 6 {
			continue
		}
		c, err := a.Chart(nil)
		if err != nil {
			t.Fatal(err)
		}
		s.Limits, s.First = &c, 1
		got := s.Chart()
		if said := strings.Contains(got.Sentence, "no signal"); said != (i == 7) {
			t.Errorf("of %d values it is said that there is no signal: %v", i+1, said)
		}
		if !strings.Contains(got.Sentence, "1 of "+fmt.Sprint(i+1)+" over the limit; 1 undecided") || !strings.Contains(got.Drawing.Caption, "by date, 2026") {
			t.Errorf("%q, %q", got.Sentence, got.Drawing.Caption)
		}
		svg := string(got.Drawing.SVG)
		if n := strings.Count(svg, mark.Undecided.Shape()); n != 1 {
			t.Errorf("%d marks of undecided, want one", n)
		}
		if n := strings.Count(svg, `circle class="solid"`); n != i-1 {
			t.Errorf("%d dots, want %d", n, i-1)
		}
		if len(got.Points) != 2 || got.Points[0].Name != "EM-3.1" || got.Points[0].Ruling.Word != "undecided" || got.Points[1].Name != "EM-5.1" {
			t.Errorf("named: %+v", got.Points)
		}
	}
}

// What was measured is drawn, however wrong: a primary that climbs, and one with wear past its land.
func TestDrawnHoweverWrong(t *testing.T) {
	b := newBench(t)
	tool := b.add("EM-1", 2)
	in := b.inspection(tool, "EM-1.1", good(2))
	for i := range in.Readings {
		if in.Readings[i].Feature == inspect.ReliefDrop {
			in.Readings[i].Value = -inches(0.001)
		}
	}
	d := b.source().Section(in, false, 1, inches(0.0185), inches(0.078))
	if d.SVG == "" || !strings.Contains(d.Caption, "at -") {
		t.Errorf("a climb: %q, drawn %v", d.Caption, d.SVG != "")
	}
	in.Readings = append(in.Readings, inspect.Reading{Feature: inspect.WearLand, Flute: 1, Repeat: 1, Value: inches(0.2)})
	if d := b.source().Section(in, false, 1, inches(0.0185), inches(0.078)); d.SVG == "" || !strings.Contains(d.Caption, "worn 0.2000") {
		t.Errorf("worn past its land: %q, drawn %v", d.Caption, d.SVG != "")
	}
	if d := b.source().Section(in, false, 1, inches(0.09), inches(0.078)); d.SVG != "" {
		t.Error("a primary wider than its land is drawn")
	}
}

// Every standing, verdict and ruling has a mark of its own name.
func TestEveryWordHasItsMark(t *testing.T) {
	names := map[string]record.Standing{}
	for _, s := range record.Standings {
		m := mark.Standing(s)
		if other, taken := names[m.Name]; m.Name == "" || taken {
			t.Errorf("%s: mark %q, which is that of %q", s, m.Name, other)
		}
		names[m.Name] = s
	}
	for _, v := range []inspect.Verdict{inspect.Accept, inspect.Reject, inspect.Undecided, inspect.NotJudged, inspect.WorthGrinding, inspect.NotWorthGrinding, inspect.NoGrindNeeded} {
		if mark.Verdict(v).Name == "" {
			t.Errorf("%s has no mark", v)
		}
	}
	for word, stands := range map[record.Word]record.Standing{record.Release: record.StandsReleased, record.Concession: record.StandsConceded, record.Withdraw: record.StandsWithdrawn} {
		if mark.Ruling(word) != mark.Standing(stands) {
			t.Errorf("a ruling of %s has the mark %q", word, mark.Ruling(word).Name)
		}
	}
}

// Whatever kind a tool is of stands on its papers, in words of the trade; what is as usual is not said.
func TestPapersNameTheKind(t *testing.T) {
	plain := inspect.Tool{ID: "EM-1", Diameter: length.Inch / 2, Flutes: 4, Material: inspect.HSS, Helix: 30 * length.Degree, Hand: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing}
	s := Source{Unit: length.In}
	if full, short := s.Full(plain), s.Short(plain); full != "1/2 in end mill, 4 flutes, HSS, helix 30\u00b0 right" || short != "1/2 in, 4 fl., HSS" {
		t.Errorf("a plain one is %q, %q", full, short)
	}
	for _, x := range []struct {
		change      func(*inspect.Tool)
		full, short string
	}{
		{func(t *inspect.Tool) { t.Ends = inspect.BallEnd }, ", ball end", ", ball end"},
		{func(t *inspect.Tool) { t.Ends = inspect.RadiusEnd }, ", radius end", ", radius end"},
		{func(t *inspect.Tool) { t.Ends = inspect.ChamferedEnd }, ", chamfered end", ", chamfered end"},
		{func(t *inspect.Tool) { t.Teeth, t.Duty = inspect.ChipBreakerTeeth, inspect.Roughing }, ", chip-breaker, roughing", ", chip-breaker"},
		{func(t *inspect.Tool) { t.Taper = 3 * length.Degree / 2 }, ", taper 1.5\u00b0", ", taper 1.5\u00b0"},
		{func(t *inspect.Tool) { t.Cut, t.Hand = inspect.LeftHand, inspect.LeftHand }, "30\u00b0 left, left-hand cut", ", left-hand cut"},
		{func(t *inspect.Tool) { t.CentreCutting = true }, ", centre cutting", ", HSS"},
		{func(t *inspect.Tool) { t.Angles = []length.Angle{0, 88, 180, 268} }, ", unequally spaced", ", HSS"},
		{func(t *inspect.Tool) { t.Form = inspect.EccentricRelief }, ", eccentric relief", ", HSS"},
		{func(t *inspect.Tool) { t.Sharpened = inspect.OnFace }, ", sharpened on the face", ", HSS"},
		{func(t *inspect.Tool) { t.Flutes = 1 }, ", 1 flute, HSS", ", 1 fl., HSS"},
	} {
		tool := plain
		x.change(&tool)
		if full, short := s.Full(tool), s.Short(tool); !strings.Contains(full, x.full) || !strings.HasSuffix(short, x.short) {
			t.Errorf("%q, %q; want %q and %q in them", full, short, x.full, x.short)
		}
	}
}

// A sheet that was overtaken says by which one, however the tool stands since.
func TestOvertakenSheetSaysByWhich(t *testing.T) {
	b, inspections := shop(t)
	for _, kind := range []string{"rejected", "undecided", "unsigned", "conceded"} {
		id := inspections[kind]
		before := strings.TrimSuffix(id, ".2") + ".1"
		if sheet, _ := sheetOf(t, b.source(), before); !strings.Contains(sheet.Ruling.Under, id) {
			t.Errorf("%s: the sheet of %s says %q, and not that %s tells how the tool stands", kind, before, sheet.Ruling.Under, id)
		}
	}
}
