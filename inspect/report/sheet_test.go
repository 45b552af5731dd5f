package report

import (
	"bytes"
	"errors"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/words"
)

func sheetOf(t *testing.T, in SheetInput) string {
	t.Helper()
	var b bytes.Buffer
	if err := Sheet(&b, in); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func tagOf(t *testing.T, in SheetInput) string {
	t.Helper()
	var b bytes.Buffer
	if err := Tag(&b, in); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// inOrder fails unless each text stands in the document after the one before it.
func inOrder(t *testing.T, document string, texts ...string) {
	t.Helper()
	at := 0
	for _, text := range texts {
		i := strings.Index(document[at:], text)
		if i < 0 {
			t.Errorf("no %q after what should stand before it", text)
			continue
		}
		at += i + len(text)
	}
}

func TestSheetTellsTheAnswerFirst(t *testing.T) {
	inOrder(t, sheetOf(t, before(3)),
		"</style>", "to grind", "<h1>TO GRIND</h1>", "SECONDARY NEEDED, AFTER THE PRIMARY: after 4 divisions the primary is 0.600 of the land, over 0.500</p>",
		"grind primary and secondary (flutes)", "grind primary (ends): blunt corner",
		"EM-0500-17", "no. 4", "before the grind", "0.50000 in",
		"<table>", "radial run-out (TIR)", "0.00041", "± 0.00010", "≤ 0.00080", "<b>accept</b>", "guarded 97", "the limit lies inside the doubt", "9.00° to 12.00°", "≥ 0.45000",
		"not seen: cracks, burn, chipped corner",
		"Radial run-out, 0.20000 in from the end", "heights drawn at", "The land in section", "relief 10.0° and 19.5° (secondary typical, not known)", "Lands of the flutes", "Lands of the end teeth",
		"Wear, stock and the land to come", "0.00183 in from first touch, 4 divisions of 0.00050 in on the dial", "after 4 divisions the primary is 0.600 of the land", "up to division 2",
		"radial run-out (TIR): perhaps held off centre: clean and reseat the tool",
		"A. Nobody (invented)", "fixture", "2026-03-04 08:15:30<", "2026-03-04 08:31:02 (clock not set)", "simple", "defaults",
		"invented bench, sequence 4711", "dial no. 1234, reads to 0.00005 in, calibration due 2027-01-31", strings.Repeat("0123456789abcdef", 4),
		"Edges are sharp", "speed marked on the wheel", "qualified practice come first", "Inspected, name and date")
}

func TestSheetAfterTheGrind(t *testing.T) {
	in := invented(4)
	in.Judgement.Verdict = inspect.Accept
	in.Judgement.Work = []inspect.Work{{What: inspect.Release, Because: inspect.AllConform}}
	in.Standing = record.StandsReleased
	in.Rulings = []Ruled{{What: "released", Who: "B. Nobody (invented)", When: in.Opened}}
	document := sheetOf(t, in)
	inOrder(t, document, "mark accept", "released</p>", "<h1>RELEASED</h1>", "RELEASE", "Before beside after", "guarded, at most 5 % risk", "released by B. Nobody (invented), 2026-03-04 08:15:30")
	if strings.Contains(document, "speed marked on the wheel") {
		t.Error("a released tool carries the cautions of the grind")
	}
	if strings.Count(document, "everything asked was read and conforms") != 1 {
		t.Error("the reason stands twice")
	}
}

func TestSheetOfATooLittleKnownTool(t *testing.T) {
	document := sheetOf(t, bare())
	inOrder(t, document, "to inspect</p>", "<h1>NOT INSPECTED TO THE END</h1>", "READ ON: nothing was read", "12.7000 mm", "Nothing was judged.", "Open", "radial run-out was not read", "Opened", "–", "Edges are sharp")
	for _, absent := range []string{"<figure>", "Wear, stock", "Ledger head", "Held in"} {
		if strings.Contains(document, absent) {
			t.Errorf("%q without anything to say", absent)
		}
	}
}

func TestMarkOfEachVerdict(t *testing.T) {
	grind := []inspect.Work{{What: inspect.GrindPrimary}}
	withdraw := []inspect.Work{{What: inspect.Withdraw}}
	for _, tt := range []struct {
		stage inspect.Stage
		j     inspect.Judgement
		want  string
	}{
		{inspect.Before, inspect.Judgement{Verdict: inspect.WorthGrinding, Work: grind}, "to grind"},
		{inspect.Before, inspect.Judgement{Verdict: inspect.NotWorthGrinding, Work: withdraw}, "not worth grinding"},
		{inspect.Before, inspect.Judgement{Verdict: inspect.NoGrindNeeded, Work: []inspect.Work{{What: inspect.NoWork}}}, "no grind needed"},
		{inspect.Between, inspect.Judgement{Verdict: inspect.Reject, Work: []inspect.Work{{What: inspect.GrindSecondary}}}, "to grind"},
		{inspect.After, inspect.Judgement{Verdict: inspect.Reject, Work: []inspect.Work{{What: inspect.GrindAgain}}}, "reject"},
		{inspect.After, inspect.Judgement{Verdict: inspect.Accept}, "accept"},
		{inspect.After, inspect.Judgement{Verdict: inspect.Undecided}, "undecided"},
		{inspect.After, inspect.Judgement{Verdict: inspect.NotJudged}, "not judged"},
	} {
		tt.j.Stage = tt.stage
		if got := markOf(words.Of(inspect.Inspection{Stage: tt.stage}, tt.j, length.In)).Word; got != tt.want {
			t.Errorf("%s, %s, %v: got %q, want %q", tt.stage, tt.j.Verdict, tt.j.Work, got, tt.want)
		}
	}
}

// The stages are compared at the distance from the end that is drawn.
func TestSheetComparesRunoutsOfOnePlace(t *testing.T) {
	in := invented(4)
	other := inventedRunout(inspect.RadialRunout, 4)
	other.FromEnd, other.TIR = at(length.Inch), 9*length.Thou
	in.Earlier[0].Judgement.Runouts = []inspect.RunoutFigures{other}
	if document := sheetOf(t, in); strings.Contains(document, "0.00900") {
		t.Error("a run-out read elsewhere stands beside the one drawn")
	}
	in.Earlier[0].Judgement.Runouts[0].FromEnd = at(length.Inch / 5)
	if document := sheetOf(t, in); !strings.Contains(document, "0.00900") {
		t.Error("the run-out read at the same place is missing")
	}
}

func TestGaugesOfASheet(t *testing.T) {
	in := invented(2)
	in.Inspection.Readings = []inspect.Reading{{Gauge: "dial"}, {Gauge: ""}, {Gauge: "dial"}, {Gauge: "elsewhere"}}
	want := []fact{
		{"Gauge", "not stated"},
		{"Gauge", "dial no. 1234, reads to 0.00005 in, calibration due 2027-01-31"},
		{"Gauge", "elsewhere, calibration not stated"},
	}
	if got := in.gauges(); !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

func TestPercentIsNeverACertainty(t *testing.T) {
	for p, want := range map[float64]string{0: "< 1", 0.0099: "< 1", 0.01: "1", 0.5: "50", 0.99: "99", 0.996: "> 99", 1: "> 99"} {
		if got := percent(p); got != want {
			t.Errorf("%v: got %q, want %q", p, got, want)
		}
	}
}

func TestCutShows(t *testing.T) {
	for _, tt := range []struct {
		text string
		size int
		want string
	}{
		{"", 4, ""},
		{"four", 4, "four"},
		{"fives", 4, "fiv…"},
		{"a bc de", 4, "a b…"},
		{"ab cd", 4, "ab…"},
		{"WIDE", 8, "WIDE"},
		{"WIDER", 8, "WID…"},
		{"漢字漢字漢", 8, "漢字漢…"},
	} {
		if got := cut(tt.text, tt.size); got != tt.want {
			t.Errorf("%q to %d: got %q, want %q", tt.text, tt.size, got, tt.want)
		}
	}
}

const hostile = `"><script>alert(1)</script><img src=x onerror=alert(2)>'&{{.}}`

// injured puts a hostile text wherever a person can put one.
func injured() SheetInput {
	in := before(3)
	i, j := &in.Inspection, &in.Judgement
	i.ID, i.Tool.ID, i.Job, i.Inspector, i.Basis.Revision = hostile, hostile, hostile, hostile, hostile
	i.Holding = inspect.Holding(hostile)
	i.Seen = []inspect.Seen{{Sight: inspect.Cracks, Yes: true, Note: hostile}}
	i.Basis.Gauges = map[string]inspect.Instrument{hostile: {Serial: hostile, CalibrationDue: hostile}}
	i.Readings[0].Gauge = hostile
	j.Work = []inspect.Work{{What: inspect.Withdraw, Because: inspect.Locked, Sights: i.Seen}, {What: inspect.GrindAgain, Sights: i.Seen}}
	j.Notes = []inspect.Note{{What: inspect.NoPlan, Detail: hostile}, {What: inspect.CalibrationPast, Gauge: hostile, Day: hostile, Due: hostile}}
	j.Findings[1].Value, j.Findings[1].Why = nil, &inspect.Reason{What: inspect.Impossible, Detail: hostile}
	in.Bench, in.Head, in.Opened.Text = hostile, hostile, hostile
	in.Rulings = []Ruled{{What: hostile, Who: hostile, Why: hostile, When: Moment{hostile, true}}}
	return in
}

func TestHostileTextStaysText(t *testing.T) {
	drawings := string(Teeth{Title: hostile, Diameter: length.Inch, Heights: make([]*length.Length, 2), Unit: length.In}.Draw()) +
		string(Chart{Title: hostile, Unit: hostile, From: hostile, To: hostile, Values: []float64{1}}.Draw()) +
		string(LandBars{Title: hostile}.Draw()) + string(BeforeAfter{Title: hostile}.figure().SVG) +
		string(LandSection{Title: hostile, Diameter: length.Inch, Primary: 1, Land: 2, Unit: length.In}.Draw())
	for name, document := range map[string]string{"sheet": sheetOf(t, injured()), "tag": tagOf(t, injured()), "drawings": drawings} {
		for _, live := range []string{"<script", "<img", hostile} {
			if strings.Contains(document, live) {
				t.Errorf("%s: %q is live", name, live)
			}
		}
		if !strings.Contains(document, "&lt;script&gt;") {
			t.Errorf("%s: the text is not there at all", name)
		}
	}
}

func TestDocumentsNeedNothingBesideThem(t *testing.T) {
	elsewhere := regexp.MustCompile(`(?i)<script|<link|<img|<iframe|@import|url\(|\shref=|\ssrc=`)
	for name, document := range map[string]string{"sheet": sheetOf(t, before(4)), "tag": tagOf(t, invented(4))} {
		if m := elsewhere.FindString(document); m != "" {
			t.Errorf("%s: %q", name, m)
		}
	}
}

func TestTag(t *testing.T) {
	inOrder(t, tagOf(t, invented(4)),
		"EM-0500-17", "NOT INSPECTED TO THE END", "Nominal diameter", "0.50000 in, 4 flutes", "Radius offset", "0.24500 in (-0.00200 since last time)", "Length offset", "3.00000 in<",
		"2026-03-04 08:31:02 (clock not set)", "mark unjudged", "to inspect</p>", "SHARP")
	for standing, want := range map[record.Standing]string{
		record.StandsWithdrawn: "WITHDRAWN", record.StandsLocked: "LOCKED", record.StandsRecalled: "RECALLED", record.StandsConceded: "USE ONLY: roughing",
		record.StandsToSign: "NOT SIGNED", record.StandsToFinish: "NOT FINISHED", record.StandsReleased: "RELEASED",
	} {
		in := invented(4)
		in.Judgement.Verdict, in.Judgement.Work = inspect.Accept, []inspect.Work{{What: inspect.Release, Because: inspect.AllConform}}
		in.Standing, in.Rulings = standing, []Ruled{{What: "ruled", Who: "nobody", Why: "roughing"}}
		tag := tagOf(t, in)
		inOrder(t, tag, want, string(standing)+"</p>")
		if standing != record.StandsReleased && strings.Contains(tag, "RELEASE") || strings.Contains(strings.ToUpper(tag), ">ACCEPT") {
			t.Errorf("the tag of a tool that is %s looks released", standing)
		}
		in.Decides = false
		if tag := tagOf(t, in); standing.Usable() && !strings.Contains(tag, "NOT THE NEWEST") {
			t.Errorf("%s by another inspection: the tag does not say so", standing)
		}
		in.Practice = true
		inOrder(t, tagOf(t, in), "PRACTICE", "practice</p>")
	}
	if tag := tagOf(t, bare()); strings.Contains(tag, "offset") {
		t.Error("offsets that are not known")
	}
}

// The sizes that the room on the page is worked out with are those of the style.
func TestDensitiesAreThoseOfTheStyle(t *testing.T) {
	css := string(style("sheet.css"))
	inOrder(t, css, "@media print {", "body { padding: 0; font-size: 11px; line-height: 1.28; }", "body.snug { font-size: 10px; }", "body.tight { font-size: 9px; line-height: 1.2; }")
	for i, want := range []density{{"roomy", 11, 11 * 1.28}, {"snug", 10, 10 * 1.28}, {"tight", 9, 9 * 1.2}} {
		if got := densities[i]; got.name != want.name || got.letter != want.letter || math.Abs(got.row-want.row) > 0.05 {
			t.Errorf("got %v, want %v", got, want)
		}
	}
	if got := bare().sheet().Density(); got != "roomy" {
		t.Errorf("a sheet with hardly anything on it is set %q", got)
	}
	if got := worst(12, strings.Repeat("W", 400)).sheet().Density(); got != "tight" {
		t.Errorf("a sheet with everything on it is set %q", got)
	}
}

// A writer that is full.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no room") }

func TestWriteErrorsNameTheInspection(t *testing.T) {
	for name, err := range map[string]error{"sheet": Sheet(full{}, invented(4)), "tag": Tag(full{}, invented(4))} {
		if err == nil || !strings.Contains(err.Error(), `"EM-0500-17.4"`) || !strings.Contains(err.Error(), "no room") {
			t.Errorf("%s: got %v", name, err)
		}
	}
}

// luminance is the relative luminance of WCAG 2.1, of a colour #rrggbb.
func luminance(t *testing.T, colour string) float64 {
	t.Helper()
	var l float64
	for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
		v, err := strconv.ParseUint(colour[1+2*i:3+2*i], 16, 8)
		if err != nil {
			t.Fatal(err)
		}
		c := float64(v) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		l += weight * c
	}
	return l
}

func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	la, lb := luminance(t, a), luminance(t, b)
	return (max(la, lb) + 0.05) / (min(la, lb) + 0.05)
}

// Contrast of at least 4.5 to 1 (WCAG 2.1, success criterion 1.4.3) for every letter: the colours are named
// once, and letters use only the named ones.
func TestLettersStandOutFromThePaper(t *testing.T) {
	if got := contrast(t, "#000000", "#ffffff"); got != 21 {
		t.Fatalf("black on white is %v, want the 21 of WCAG", got)
	}
	named := regexp.MustCompile(`--(\w+): (#[0-9a-f]{6})`)
	used := regexp.MustCompile(`(?:^|[\s{;])(color|fill|background): ([^;]+);`)
	for _, name := range []string{"sheet.css", "tag.css", "drawing.css"} {
		css := string(style(name))
		colours := map[string]string{}
		for _, m := range named.FindAllStringSubmatch(css, -1) {
			colours["var(--"+m[1]+")"] = m[2]
		}
		for _, m := range used.FindAllStringSubmatch(css, -1) {
			property, value := m[1], m[2]
			switch {
			case slices.Contains([]string{"currentColor", "none"}, value): // the colour of the letters around it
			case property == "background" && value == "var(--paper)":
			case colours[value] == "":
				t.Errorf("%s: %s %s is not a named colour", name, property, value)
			default:
				if got := contrast(t, colours[value], colours["var(--paper)"]); got < 4.5 {
					t.Errorf("%s: %s %s on paper is %.2f to 1, want 4.5", name, property, value, got)
				}
			}
		}
	}
}
