package paper

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"flutelog/inspect/draw"
	"flutelog/inspect/length"
	"flutelog/inspect/mark"
)

// All people, tools, customers and figures here are invented.

// standing is one tool of the table: how it stands, and whether its papers may look like a release.
type standing struct {
	kind    string
	tool    string
	ruling  Ruling
	flutes  int
	foot    string
	facts   []Fact
	unread  []string
	answer  string
	invents bool // read with a practice gauge
}

const shortHead = "a57e82c6b158ea0a-21-915d4dacfc0a5a4c"

const long60 = "CARBIDE-ROUGHER-OF-THE-LARGE-MACHINE-BAY-7-SHELF-12-NO-00042"

var condition200 = strings.Repeat("slotting in aluminium only, at half the feed, ", 4) + "by Ines"

// The twenty tools and rulings. Those that are no release must not look like one anywhere.
var twenty = []standing{
	{kind: "released", tool: "EM-0412", flutes: 4, ruling: ruled(mark.Released, "Released", ""), foot: "N. Okafor 24 Nov 2026"},
	{kind: "released, fixture", tool: "SD-0033", flutes: 2, ruling: ruled(mark.Released, "Released", "true in the fixture only"), foot: "N. Okafor 24 Nov 2026"},
	{kind: "released, long id", tool: long60, flutes: 12, ruling: ruled(mark.Released, "Released", ""), foot: "N. Okafor 24 Nov 2026"},
	{kind: "released, right to left", tool: "\u05db\u05e8\u05e1-17", flutes: 3, ruling: ruled(mark.Released, "Released", ""), foot: "N. Okafor 24 Nov 2026"},
	{kind: "released, lower case", tool: "em-9", flutes: 6, ruling: ruled(mark.Released, "Released", ""), foot: "N. Okafor 24 Nov 2026"},
	{kind: "conceded", tool: "EM-0416", flutes: 4, ruling: ruled(mark.Conceded, "Use for roughing only", "under 0.92 of nominal"), foot: "conceded by N. Okafor 24 Nov 2026",
		answer: "GRIND AGAIN: diameter 0.4602 in is under 0.4600 in"},
	{kind: "conceded, long condition", tool: "EM-0419", flutes: 8, ruling: ruled(mark.Conceded, "Use for "+condition200, "under 0.92 of nominal"), foot: "conceded by N. Okafor 24 Nov 2026"},
	{kind: "withdrawn", tool: "EM-0417", flutes: 4, ruling: ruled(mark.Withdrawn, "Withdrawn", "not even for roughing; destroy or return"), foot: "N. Okafor 20 Nov 2026",
		facts: []Fact{{"why", "0.4455 in, smallest useful 0.4500"}}},
	{kind: "locked", tool: "EM-0401", flutes: 4, ruling: ruled(mark.Locked, "Locked", "crack, flute 2"), foot: "seen by R. Vale 24 Nov 2026, 10:04",
		facts: []Fact{{"waits for", "one who may sign"}}, unread: []string{"Radial run-out; diameter; burn."}, answer: "LOCKED: a crack at flute 2. DO NOT GRIND. DO NOT RUN."},
	{kind: "recalled", tool: "EM-0377", flutes: 4, ruling: ruled(mark.Recalled, "Recalled", "TIR is 0.0008 in, the most is 0.0005 in"), foot: "corrected by N. Okafor 24 Nov 2026",
		facts: []Fact{{"bring it to", "the tool room"}}},
	{kind: "rejected", tool: "EM-0420", flutes: 5, ruling: ruled(mark.ToGrind, "To grind again", "TIR 0.0009 in, the most is 0.0005 in"), foot: "R. Vale 24 Nov 2026", answer: "GRIND AGAIN: TIR 0.0009 in, flute 3"},
	{kind: "undecided", tool: "EM-0396", flutes: 4, ruling: ruled(mark.Undecided, "Undecided", "TIR 0.0005 \u00b1 0.0001 in, the most is 0.0005 in"), foot: "R. Vale 23 Oct 2026",
		facts: []Fact{{"next", "two more rounds settle it"}}, answer: "READ ON: one thing is open"},
	{kind: "unsigned", tool: "EM-0388", flutes: 4, ruling: ruled(mark.ToSign, "Not signed", "all conforms, no signature yet"), foot: "R. Vale 24 Nov 2026", facts: []Fact{{"waits for", "one who may sign"}}},
	{kind: "before", tool: "EM-0415", flutes: 4, ruling: ruled(mark.ToGrind, "To grind", "primary, 1 division"), foot: "R. Vale 24 Nov 2026", facts: []Fact{{"before", "EM-0415.3, wear 0.006 in"}}, answer: "GRIND PRIMARY: flute 2 is worn 0.006 in, the most is 0.005 in"},
	{kind: "between", tool: "EM-0413", flutes: 4, ruling: ruled(mark.ToFinish, "Not finished", "primary ground, secondary to come"), foot: "R. Vale 24 Nov 2026, not signed",
		facts: []Fact{{"next", "secondary, 4 divisions; leave it in the fixture"}}},
	{kind: "ground", tool: "EM-0421", flutes: 7, ruling: ruled(mark.ToInspect, "To inspect", "ground, not read since"), foot: "24 Nov 2026"},
	{kind: "received", tool: "EM-0418", flutes: 1, ruling: ruled(mark.Received, "Received", "nothing read yet"), foot: "24 Nov 2026", facts: []Fact{{"job", "J-82, Kestrel Fixtures"}}},
	{kind: "not reground", tool: "EM-0422", flutes: 11, ruling: ruled(mark.Conceded, "Not reground", "no grind was needed"), foot: "N. Okafor 24 Nov 2026"},
	{kind: "practice", tool: "PR-0001", flutes: 4, ruling: ruled(mark.Released, "Released", ""), foot: "read in practice", invents: true},
	{kind: "retired", tool: `EM<b>"&'`, flutes: 9, ruling: ruled(mark.Retired, "Retired", `<script>alert(1)</script>`), foot: "<img src=x>"},
}

// noRelease are the kinds that must not look like one.
var noRelease = []string{"before", "between", "unsigned", "undecided", "rejected", "conceded", "recalled", "locked", "withdrawn", "practice"}

func (s standing) looksFree() bool { return s.ruling.Mark == mark.Released && !s.invents }

func (s standing) tag() Tag {
	return Tag{
		Ruling: s.ruling, Tool: s.tool, What: fmt.Sprintf("1/2 in, %d fl., HSS", s.flutes), Inspection: s.tool + ".13", Diameter: "0.4817 in", Radius: "0.2409",
		Change: "\u22120.0059 dia., \u22120.0020 long", Smallest: "0.4500", Facts: s.facts, Foot: s.foot, Practice: s.invents,
	}
}

func tags() []Tag {
	var all []Tag
	for _, s := range twenty {
		all = append(all, s.tag())
	}
	return all
}

func (s standing) row() CertificateRow {
	r := CertificateRow{
		Ruling: s.ruling, Tool: s.tool, What: fmt.Sprintf("1/2 \u00d7 %d, HSS", s.flutes), FoundWear: "0.011", FoundTIR: "0.0007", FoundDiameter: "0.4876",
		Faces: "primary, secondary", Divisions: "2, 4", TIR: "0.0003", TIRUncertainty: "0.0001", Share: "0.24", Relief: "10.4\u00b0", Diameter: "0.4817", Length: "3.2480",
	}
	if s.invents {
		r.Ruling = Ruling{Mark: mark.Invented, Word: "Practice: invented"}
	}
	if letters(r.Ruling.Word) > 30 {
		r.Ruling.Short, r.Note = "On a condition", r.Ruling.Word+". "
	}
	if !s.looksFree() {
		r.Note += s.ruling.Under + ". N. Okafor, 24 November 2026."
	}
	return r
}

func proof() Proof {
	return Proof{Where: "Bench tool-room (invented), record 1231", Head: "9c41 7be0 22d8 5a16", Says: "With this head and the ledger a change to what was recorded until then is found."}
}

func certificate(tools int) Certificate {
	c := Certificate{
		Job: "J-77", Customer: "Harrow Tool Hire (invented)", Order: "4500123", Date: "24 November 2026", Lead: fmt.Sprintf("%d end mills received 20 November 2026, every one inspected.", tools),
		Sums:     []Count{{mark.Released, "5 released"}, {mark.Conceded, "3 on a condition"}, {mark.Withdrawn, "1 withdrawn"}},
		Unread:   []string{"EM-0401: radial run-out; diameter; burn. EM-0417: nothing after the grind, for it was withdrawn."},
		Caption:  "Found before the grind, left after it. Lengths in inches; TIR at 0.50 in from the end, held in a vee on the shank; the uncertainty is at 95 %.",
		Limits:   []string{"TIR at most 0.0005, guarded at 95 %. Primary 0.10 to 0.50 of the land. Relief 9\u00b0 to 12\u00b0, 0.020 back from the edge. Common practice, revision 4 of this bench."},
		ReadWith: []string{"Indicator 1, step 0.0001, calibration due 3 June 2027. Measuring loupe, step 0.001. By R. Vale, 20 to 24 November."},
		Signed:   []Signature{{"Ruled, name and date", "N. Okafor, 24 November 2026, 15:10"}, {"Received, name and date", ""}}, Proof: proof(),
	}
	for i := range tools {
		s := twenty[i%len(twenty)]
		r := s.row()
		if i >= len(twenty) {
			r.Tool = fmt.Sprintf("EM-%04d", 1000+i)
		}
		c.Rows = append(c.Rows, r)
	}
	return c
}

func end(flutes int) draw.End {
	e := draw.End{Name: "Radial run-out, seen from the end", Diameter: length.Inch / 2, Limit: ptr(5 * length.Thou / 10), Worst: []int{flutes}}
	for i := range flutes {
		h := length.Length(i%4-1) * length.Thou / 10
		e.Heights = append(e.Heights, h)
		e.Texts = append(e.Texts, strings.Replace(h.Format(length.In, 5), "0.", ".", 1))
	}
	return e
}

func section(share float64, measured bool) draw.Section {
	land := 78 * length.Thou
	return draw.Section{Name: "The land of flute 3 in section", Diameter: length.Inch / 2, Helix: 30 * length.Degree, Primary: length.Length(share * float64(land)), Land: land, Wear: ptr(6 * length.Thou),
		PrimaryRelief: draw.Relief{Angle: 10 * length.Degree, Measured: true}, SecondaryRelief: draw.Relief{Angle: 21 * length.Degree, Measured: measured}, Unit: length.In}
}

func ptr[T any](v T) *T { return &v }

// sheet is the sheet of one of the tools; full has all that a sheet ever has.
func (s standing) sheet(t *testing.T, full bool) Sheet {
	t.Helper()
	symbol, _, err := draw.Symbol(shortHead, 0.5, 24)
	if err != nil {
		t.Fatal(err)
	}
	r := s.ruling
	if s.invents {
		r = ruled(mark.Invented, "Practice: invented", "read with a pretend gauge")
	}
	sh := Sheet{
		Inspection: s.tool + ".13", Tool: s.tool, Ruling: r, Corner: []string{"after the grind", "job J-77"}, Answer: s.answer, Practice: s.invents,
		Facts:  []Fact{{"Tool", fmt.Sprintf("1/2 in end mill, %d flutes, HSS, helix 30\u00b0 right", s.flutes)}, {"Diameter", "0.4817 in"}, {"Radius offset", "0.2409 in"}, {"Since last out", "\u22120.0059 in dia., \u22120.0020 in long"}, {"Regrinds left", "6, 5 to 8"}},
		Unread: s.unread, AllRead: "Everything that this bench requires was read and looked at.",
		FiguresIn: "What decided. Inches; uncertainty at 95 %", ReadingsIn: "What was read, flute by flute",
		Sights: []string{"Not seen: crack, burn, chipped corner, chipped edge, blunt corner, bent shank, burred shank."},
		How:    []string{"R. Vale, 24 November 13:48 to 13:58. Indicator 1, step 0.0001, calibration due 3 June 2027. Read in the fixture, not reseated between the two rounds.", "Ground by R. Vale: cup 4, primary 2 divisions, secondary 4, rest 0.043 in under the centre. Limits: common practice, revision 4."},
		Signed: []Signature{{"Inspected", "R. Vale, 24 November 2026"}, {"Ruled", ""}, {"Received", ""}}, Proof: proof(), Symbol: symbol,
		Drawings: []Drawing{{SVG: end(s.flutes).SVG(), Caption: fmt.Sprintf("Radial run-out, seen from the end. Flute %d, ringed, decided.", s.flutes)}, {SVG: section(0.24, true).SVG(), Caption: "Flute 3, the land in section, to scale: primary 0.0185 at 10.4\u00b0, land 0.078."}},
	}
	names := []string{"radial TIR at 0.50", "primary share, flute 3", "relief at 0.020, flute 3", "axial TIR at 0.20", "end primary, flute 3", "diameter", "taper on the diameter"}
	for _, n := range names {
		sh.Figures = append(sh.Figures, Figure{Mark: mark.Accept, Verdict: "conforms", Name: n, Value: "0.0003", Uncertainty: "0.0001", Limit: "at most 0.0005"})
	}
	for i := range s.flutes {
		sh.Flutes = append(sh.Flutes, fmt.Sprint(i+1))
	}
	rows := []string{"radial run-out", "second round", "primary land", "whole land", "drop, 0.020 back", "axial run-out", "end primary land", "end whole land"}
	if full {
		rows = append(rows, "third round", "closing", "secondary drop", "end drop", "wear", "radial run-out at 1.00", "second round", "third round", "shank run-out", "second round")
		for i := range 9 {
			sh.Figures = append(sh.Figures, Figure{Mark: mark.Undecided, Verdict: "undecided", Name: fmt.Sprintf("one more figure of flute %d", i), Value: "0.00032", Uncertainty: "0.00012", Limit: "0.10 to 0.50", Why: "the limit lies inside the uncertainty; two more rounds would settle it"})
		}
		sh.Corrections = slices.Repeat([]string{"primary land, flute 3: 0.0185, was 0.0158. N. Okafor, 24 November 2026, 15:20: " + strings.Repeat("misread the loupe ", 8)}, 6)
		sh.Unread = slices.Repeat([]string{strings.Repeat("secondary drop on flute 2 and 4; ", 9)}, 3)
		sh.Work = slices.Repeat([]string{"Grind the primary on all flutes, 2 divisions from the first touch on flute 3, then look; spark out twice round."}, 5)
		sh.Cautions = []string{"Not over the speed marked on the wheel. Guard on. The wheel must push the tooth onto its rest. Eyes covered, dust and mist drawn off, no gloves, no loose sleeve."}
		sh.Facts = append(sh.Facts, Fact{"Smallest useful", "0.4500 in"}, Fact{"Held", "in the fixture, as ground"})
		sh.Drawings = append(sh.Drawings, Drawing{Name: "the end land", SVG: section(0.5, false).SVG(), Caption: "The end tooth in section; secondary dashed: not measured, the tool's nominal 21\u00b0."})
		sh.How = append(sh.How, sh.How...)
	}
	for k, name := range rows {
		r := Round{Name: name}
		for i := range s.flutes {
			r.Cells = append(r.Cells, Cell{Text: []string{"+0.0001", "0.0175", "\u22120.0002"}[(k+i)%3], Corrected: full && k == 2 && i == 0})
		}
		sh.Readings = append(sh.Readings, r)
	}
	return sh
}

func charts() Charts {
	var points []draw.Point
	for i := range 26 {
		p := draw.Point{Value: 0.00025 + 0.0001*float64((i*7)%5-2)/2, At: fmt.Sprintf("%d Oct", i+1), Ringed: i > 22}
		switch i {
		case 9:
			p.Value, p.Mark, p.Name = 0.0007, &mark.Reject, "EM-0390"
		case 17:
			p.Value, p.Mark = 0.0005, &mark.Undecided
		case 25:
			p.Name = "EM-0412"
		}
		points = append(points, p)
	}
	run := draw.Chart{Name: "TIR after the grind", Decimals: 4, Points: points, Tolerance: []draw.Level{{Value: 0.0005, Name: "limit 0.0005"}}, Process: &[2]float64{-0.0001, 0.00047}, Least: ptr(0.0), Wide: true}
	life := draw.Life{Name: "Life of EM-0412", Unit: length.In, Smallest: ptr(450 * length.Thou), Left: &[2]int{5, 8}, SmallestName: "smallest useful 0.4500 in", Wide: true}
	for i, d := range []length.Length{500, 496, 491, 487, 482} {
		life.Points = append(life.Points, draw.LifePoint{Regrind: i, Diameter: d * length.Thou})
	}
	return Charts{Title: "Trends", Lead: "26 regrinds, 2 September to 24 November 2026, all wheels", Proof: proof(), Charts: []Charted{
		{Sentence: "Radial run-out: a signal; 1 of 26 rejected, 1 undecided", Drawing: Drawing{SVG: run.SVG(), Caption: "TIR, in, by date. Crosses are rejected, diamonds undecided, dots conform; ringed: signals. Shaded: where 26 points of this bench fall."},
			Heads: []string{"Date", "TIR, in", "Then"}, Points: []ChartedPoint{{ruled(mark.Reject, "rejected", ""), "EM-0390.4", []string{"28 Sep 2026", "0.0007", "ground again"}}, {ruled(mark.Undecided, "undecided", ""), "EM-0396.2", []string{"23 Oct 2026", "0.0005", "a concession is asked"}}}},
		{Sentence: "Life of EM-0412: 6 regrinds left, 5 to 8", Drawing: Drawing{SVG: life.SVG(), Caption: "Diameter, in, by regrind. The wedge: where it reaches the smallest useful diameter."}},
		{Sentence: "Primary share: one value, 0.24, too few for a chart"},
	}}
}

func ruled(m mark.Mark, word, under string) Ruling { return Ruling{Mark: m, Word: word, Under: under} }
