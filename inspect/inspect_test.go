package inspect

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// testTool is invented.
func testTool() Tool {
	return Tool{
		ID: "T-1", Diameter: length.Inch / 2, Flutes: 4, Material: HSS, Helix: 0, Hand: RightHand,
		Ends: SquareEnd, Teeth: PlainTeeth, Duty: Finishing,
		PrimaryRelief: deg(8), SecondaryRelief: deg(16), Rake: deg(5),
	}
}

func deg(n length.Angle) *length.Angle {
	a := n * length.Degree
	return &a
}

// readings makes one reading a flute from inch values.
func readings(f Feature, repeat int, values ...string) []Reading {
	var rs []Reading
	for i, v := range values {
		l, err := length.Parse(v, length.In)
		if err != nil {
			panic(err)
		}
		flute := i + 1
		if f.Single() {
			flute = 0
		}
		rs = append(rs, Reading{Feature: f, Flute: flute, Repeat: repeat, Value: l, Text: v, Unit: length.In})
	}
	return rs
}

func inspection(stage Stage, rs ...[]Reading) Inspection {
	t := testTool()
	in := Inspection{ID: "T-1.1", Tool: t, Stage: stage, Holding: InFixture, Basis: DefaultBasis(t), Readings: slices.Concat(rs...)}
	in.Basis.Feed.Division = 2 * length.Thou
	return in
}

func find1(t *testing.T, j Judgement, f Feature) Finding {
	t.Helper()
	for _, finding := range j.Findings {
		if finding.Feature == f {
			return finding
		}
	}
	t.Fatalf("no finding for %s in %+v", f, j.Findings)
	return Finding{}
}

// A reading equal to its limit conforms under the simple rule, for every limit in micrometres and in
// ten-thousandths of an inch that a shop would set; a picometre more does not.
func TestOnTheLimitConforms(t *testing.T) {
	var limits []length.Length
	for um := length.Length(1); um <= 50; um++ {
		limits = append(limits, um*length.Micrometre)
	}
	for tenths := length.Length(1); tenths <= 50; tenths++ {
		limits = append(limits, tenths*length.Tenth)
	}
	for _, limit := range limits {
		for _, zero := range []length.Length{0, 290 * length.Micrometre, -17 * length.Tenth} {
			for over, want := range map[length.Length]Verdict{-1: Accept, 0: Accept, 1: Reject} {
				in := inspection(Before)
				in.Basis.Limits.Set(RadialRunout, Limit{Most: lengthQuantity(limit), Judged: true})
				for i, h := range []length.Length{zero, zero + limit + over, zero + limit/2, zero} {
					in.Readings = append(in.Readings, Reading{Feature: RadialRunout, Flute: i + 1, Repeat: 1, Value: h, Text: "0", Unit: length.In})
				}
				if got := find1(t, Judge(in), RadialRunout); got.Verdict != want {
					t.Fatalf("limit %s, TIR %d pm more, zero %s: got %s, want %s", limit, over, zero, got.Verdict, want)
				}
			}
		}
	}
}

// Exactly one half of the land is not more than one half (common practice, no source).
func TestHalfRule(t *testing.T) {
	land := 787 * length.Micrometre * 2
	for over, want := range map[length.Length]Verdict{-1: Accept, 0: Accept, 1: Reject} {
		in := inspection(Between)
		for i := range 4 {
			primary := 300 * length.Micrometre
			if i == 2 {
				primary = land/2 + over
			}
			in.Readings = append(in.Readings,
				Reading{Feature: PrimaryLand, Flute: i + 1, Repeat: 1, Value: primary, Text: "0", Unit: length.Mm},
				Reading{Feature: Land, Flute: i + 1, Repeat: 1, Value: land, Text: "0", Unit: length.Mm})
		}
		j := Judge(in)
		f := find1(t, j, PrimaryLand)
		if f.Verdict != want || f.Flute != 3 {
			t.Errorf("half and %d pm: got %s for flute %d, want %s for flute 3", over, f.Verdict, f.Flute, want)
		}
		if got := j.Outcome() == FallsShort; got != (want == Reject) {
			t.Errorf("half and %d pm: falls short %v", over, got)
		}
	}
}

func TestWork(t *testing.T) {
	even := readings(RadialRunout, 1, "0", "0.0001", "0.0002", "0.0001")
	out := readings(RadialRunout, 1, "0", "0.0006", "0.0002", "0.0001")
	sharp := readings(WearLand, 1, "0.001", "0.002", "0.001", "0.001")
	worn := readings(WearLand, 1, "0.010", "0.012", "0.010", "0.011")
	deep := readings(WearLand, 1, "0.010", "0.020", "0.010", "0.011")
	quarter := slices.Concat(readings(PrimaryLand, 1, "0.020", "0.020", "0.020", "0.020"), readings(Land, 1, "0.080", "0.080", "0.080", "0.080"))
	wide := slices.Concat(readings(PrimaryLand, 1, "0.040", "0.040", "0.047", "0.040"), readings(Land, 1, "0.080", "0.080", "0.080", "0.080"))
	endsWide := slices.Concat(readings(EndPrimaryLand, 1, "0.040", "0.040", "0.041", "0.040"), readings(EndLand, 1, "0.080", "0.080", "0.080", "0.080"))
	three := slices.Concat(readings(RadialRunout, 1, "0", "0.0001", "0.0002", "0.0001"), readings(RadialRunout, 2, "0", "0.0001", "0.0002", "0.0001"), readings(RadialRunout, 3, "0", "0.0001", "0.0002", "0.0001"))
	tests := []struct {
		name    string
		stage   Stage
		seen    []Seen
		rs      [][]Reading
		work    []Task
		where   Where
		verdict Verdict
		ends    Outcome
	}{
		{name: "nothing read", stage: Before, work: []Task{ReadOn}, verdict: NotJudged, ends: Open},
		{name: "sharp and true", stage: Before, rs: [][]Reading{even, sharp, quarter}, work: []Task{NoWork}, verdict: NoGrindNeeded},
		{name: "worn, one division clears it", stage: Before, rs: [][]Reading{worn, quarter}, work: []Task{GrindPrimary}, where: OnFlutes, verdict: WorthGrinding},
		// Flute 2 stands .0003 up, its facet .002 over its edge: .0023 to the other edges.
		{name: "worn, two divisions leave 0.5998", stage: Before, rs: [][]Reading{readings(RadialRunout, 1, "0", "0.0003", "0", "0"), deep, quarter}, work: []Task{GrindBoth}, where: OnFlutes, verdict: WorthGrinding, ends: FallsShort},
		{name: "worn, lands not read", stage: Before, rs: [][]Reading{worn}, work: []Task{GrindPrimary}, where: OnFlutes, verdict: WorthGrinding},
		{name: "primary wide already", stage: Before, rs: [][]Reading{wide}, work: []Task{GrindSecondary}, where: OnFlutes, verdict: WorthGrinding, ends: FallsShort},
		{name: "primary wide already, and worn", stage: Before, rs: [][]Reading{wide, worn}, work: []Task{GrindBoth}, where: OnFlutes, verdict: WorthGrinding, ends: FallsShort},
		{name: "ends wide", stage: Before, rs: [][]Reading{sharp, endsWide}, work: []Task{GrindSecondary}, where: OnEnds, verdict: WorthGrinding, ends: FallsShort},
		{name: "cracked", stage: Before, seen: []Seen{{Sight: Cracks, Yes: true}}, rs: [][]Reading{worn}, work: []Task{Withdraw}, verdict: NotWorthGrinding, ends: FallsShort},
		{name: "chipped corner", stage: Before, seen: []Seen{{Sight: ChippedCorner, Yes: true}}, rs: [][]Reading{sharp}, work: []Task{CutBack}, where: OnEnds, verdict: WorthGrinding, ends: FallsShort},
		{name: "blunt corner", stage: Before, seen: []Seen{{Sight: BluntCorner, Yes: true}}, rs: [][]Reading{sharp}, work: []Task{GrindPrimary}, where: OnEnds, verdict: WorthGrinding},
		{name: "too small", stage: Before, rs: [][]Reading{readings(Diameter, 1, "0.4499")}, work: []Task{Downgrade}, verdict: NotWorthGrinding, ends: FallsShort},
		{name: "just big enough", stage: Before, rs: [][]Reading{readings(Diameter, 1, "0.4500")}, work: []Task{NoWork}, verdict: NoGrindNeeded},
		{name: "too small after the grind", stage: Before, rs: [][]Reading{worn, quarter, readings(Diameter, 1, "0.4510")}, work: []Task{Downgrade, GrindPrimary}, verdict: NotWorthGrinding, ends: FallsShort},
		{name: "between, quarter", stage: Between, rs: [][]Reading{quarter}, work: []Task{GoOn}, verdict: Accept},
		{name: "between, wide", stage: Between, rs: [][]Reading{wide}, work: []Task{GrindSecondary}, where: OnFlutes, verdict: Reject, ends: FallsShort},
		{name: "after, one reading", stage: After, rs: [][]Reading{even, quarter}, work: []Task{ReadOn}, verdict: NotJudged, ends: Open},
		{name: "after, three readings", stage: After, rs: [][]Reading{three, quarter}, work: []Task{Release}, verdict: Accept},
		{name: "after, out by far", stage: After, rs: [][]Reading{out, readings(RadialRunout, 2, "0", "0.0016", "0.0002", "0.0001"), readings(RadialRunout, 3, "0", "0.0026", "0.0002", "0.0001")}, work: []Task{ReadOn}, verdict: Undecided, ends: Open},
		{name: "after, wide", stage: After, rs: [][]Reading{three, wide}, work: []Task{GrindSecondary}, where: OnFlutes, verdict: Reject, ends: FallsShort},
		{name: "after, burnt", stage: After, seen: []Seen{{Sight: Burn, Yes: true}}, rs: [][]Reading{three}, work: []Task{Withdraw}, verdict: Reject, ends: FallsShort},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			in := inspection(tt.stage, tt.rs...)
			in.Seen = tt.seen
			in.Basis.Required = []Item{} // what is required is tested apart
			j := Judge(in)
			var got []Task
			for _, w := range j.Work {
				got = append(got, w.What)
			}
			if !slices.Equal(got, tt.work) || j.Verdict != tt.verdict || j.Outcome() != tt.ends {
				t.Errorf("got %v, %s, %v; want %v, %s, %v", got, j.Verdict, j.Outcome(), tt.work, tt.verdict, tt.ends)
			}
			if tt.where != "" && j.Work[0].Where != tt.where {
				t.Errorf("work on the %q, want %q", j.Work[0].Where, tt.where)
			}
		})
	}
}

// Worn by 0.015 in, a tooth of primary 0.020, land 0.080, 8 and 16 degrees, rake 5 on 0.5 in needs 0.001645116 in from
// first touch, and 0.002 in leaves a primary of 0.4236 of the land, 0.004 in one of 0.5998: lines and circles intersected
// numerically (worn_tooth.csv), not the code in use. Without a division stated the plan speaks in lengths alone.
func TestBeforeEndsInThePlan(t *testing.T) {
	tests := []struct {
		name, division string
		divisions      int
		ratio          string
		over           bool
	}{
		{"one", "0.002", 1, "0.4236", false},
		{"two of half the size", "0.001", 2, "0.4236", false},
		{"one of twice the size", "0.004", 1, "0.5998", true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			in := inspection(Before,
				readings(WearLand, 1, "0.001", "0.015", "0.012", "0.012"),
				readings(PrimaryLand, 1, "0.020", "0.020", "0.020", "0.020"),
				readings(Land, 1, "0.080", "0.080", "0.080", "0.080"))
			in.Basis.Feed.Division = readings(Diameter, 1, tt.division)[0].Value
			j := Judge(in)
			if j.Plan == nil {
				t.Fatal("no plan")
			}
			if got := fmt.Sprintf("%.4f", *j.Plan.RatioAfter); got != tt.ratio || *j.Plan.Divisions != tt.divisions || j.Plan.OverAfter != tt.over {
				t.Errorf("got %+v, ratio %s; want %+v", j.Plan, got, tt)
			}
			if got := j.Plan.Infeed.Format(length.In, 9); got != "0.001645116" {
				t.Errorf("infeed %s in, want 0.001645116", got)
			}
			in.Basis.Feed.Division = 0
			if p := Judge(in).Plan; p == nil || p.Divisions != nil || p.Division != nil || p.LastWithoutSecondary != nil || p.RatioAfter == nil {
				t.Errorf("no division stated: got %+v, want a plan in lengths", p)
			}
		})
	}
}

func TestClosingDriftVoidsTheSet(t *testing.T) {
	rs := slices.Concat(
		readings(RadialRunout, 1, "0", "0.0001", "0.0002", "0.0001"),
		readings(RadialRunout, 2, "0", "0.0001", "0.0002", "0.0001"))
	for text, want := range map[string]Verdict{"0.0001": Accept, "0.0009": NotJudged} {
		in := inspection(Between, rs)
		closing := readings(RadialRunout, 0, text)[0]
		closing.Closing = true
		in.Readings = append(in.Readings, closing)
		if f := find1(t, Judge(in), RadialRunout); f.Verdict != want {
			t.Errorf("closing %s: got %s (%v), want %s", text, f.Verdict, f.Why, want)
		}
	}
}

func TestMissingFlutesAreNamed(t *testing.T) {
	f := find1(t, Judge(inspection(Between, readings(RadialRunout, 1, "0", "0.0001"))), RadialRunout)
	if f.Verdict != NotJudged || f.Why == nil || f.Why.What != NotRead || !slices.Equal(f.Why.Flutes, []int{3, 4}) {
		t.Errorf("got %s, %+v", f.Verdict, f.Why)
	}
}

func TestReadingCheck(t *testing.T) {
	ball, rough := testTool(), testTool()
	ball.Ends, rough.Teeth = BallEnd, ChipBreakerTeeth
	tests := []struct {
		name string
		tool Tool
		r    Reading
		want string // in the error; "" for none
	}{
		{"good", testTool(), Reading{Feature: Land, Flute: 4, Repeat: 1, Value: 1}, ""},
		{"flute 5 of 4", testTool(), Reading{Feature: Land, Flute: 5, Repeat: 1, Value: 1}, "flutes 1 to 4"},
		{"no flute", testTool(), Reading{Feature: Land, Repeat: 1, Value: 1}, "flutes 1 to 4"},
		{"diameter of a flute", testTool(), Reading{Feature: Diameter, Flute: 1, Repeat: 1, Value: 1}, "leave the flute empty"},
		{"no width", testTool(), Reading{Feature: Land, Flute: 1, Repeat: 1}, "more than zero"},
		{"no wear", testTool(), Reading{Feature: WearLand, Flute: 1, Repeat: 1}, ""},
		{"negative wear", testTool(), Reading{Feature: WearLand, Flute: 1, Repeat: 1, Value: -1}, "more than zero"},
		{"repeat 0", testTool(), Reading{Feature: Land, Flute: 1, Value: 1}, "numbered from 1"},
		{"closing a land", testTool(), Reading{Feature: Land, Flute: 1, Closing: true, Value: 1}, "read again to close"},
		{"ends of a ball", ball, Reading{Feature: AxialRunout, Flute: 1, Repeat: 1}, "flutes only"},
		{"run-out of a roughing profile", rough, Reading{Feature: RadialRunout, Flute: 1, Repeat: 1}, "chip-breaker"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			err := tt.r.Check(tt.tool)
			if (err == nil) != (tt.want == "") || err != nil && !strings.Contains(err.Error(), tt.want) {
				t.Errorf("got %v, want %q", err, tt.want)
			}
		})
	}
}

func TestReadCSV(t *testing.T) {
	const head = "feature,flute,from_end,repeat,value,unit\n"
	rs, seen, err := ReadCSV(strings.NewReader(head+"cracks,,,,yes,\nradial-runout,1,5mm,1,0.0003,in\nradial-runout,1,5mm,close,7.62,um\nland,2,,,0.05,\n"), "f.csv", testTool(), length.In)
	if err != nil {
		t.Fatal(err)
	}
	if len(seen) != 1 || !seen[0].Yes || len(rs) != 3 {
		t.Fatalf("got %v and %v", seen, rs)
	}
	if rs[0].Value != rs[1].Value || *rs[0].FromEnd != 5*length.Millimetre || !rs[1].Closing || rs[2].Value != length.Inch/20 || rs[2].Repeat != 1 {
		t.Errorf("got %+v", rs)
	}
	_, seen, err = ReadCSV(strings.NewReader(head+"chipped-corner,2,,,0.015,in\nchipped-edge,,,,0.3,mm\ncracks,,,,unsure,\n"), "f.csv", testTool(), length.In)
	if err != nil || len(seen) != 3 || *seen[0].Length != 15*length.Thou || seen[0].Flute != 2 || *seen[1].Length != 300*length.Micrometre || !seen[2].Unsure || !seen[2].Yes {
		t.Errorf("sights %+v, %v", seen, err)
	}
	tests := []struct{ name, in, want string }{
		{"empty", "", "f.csv:1: empty"},
		{"other header", "a,b\n", "f.csv:1: "},
		{"decimal comma quoted", head + "land,1,,1,\"0,05\",in\n", "f.csv:2: value: \"0,05\": a comma"},
		{"decimal comma bare", head + "land,1,,1,0,05,in\n", "f.csv:2: wrong number of fields"},
		{"unknown feature", head + "width,1,,1,0.05,in\n", "f.csv:2: feature \"width\""},
		{"unknown unit", head + "land,1,,1,0.05,ft\n", "f.csv:2: unit \"ft\""},
		{"flute not there", head + "land,1,,1,0.05,in\nland,5,,1,0.05,in\n", "f.csv:3: "},
		{"twice", head + "land,1,,1,0.05,in\nland,1,,,0.06,in\n", "f.csv:3: land flute 1 repeat 1: already given on line 2"},
		{"sight", head + "burn,,,,perhaps,\n", "f.csv:2: burn: value \"perhaps\": want yes, no or unsure"},
		{"chip without a unit that is one", head + "chipped-corner,,,,0.01,ft\n", "f.csv:2: unit \"ft\""},
		{"chip", head + "chipped-edge,2,,,a bit,in\n", "f.csv:2: chipped-edge: value \"a bit\": want yes, no, unsure or how long"},
		{"length of a burn", head + "burn,,,,0.010,in\n", "f.csv:2: burn: value"},
		{"flute of a sight", head + "burn,9,,,yes,\n", "f.csv:2: burn flute 9"},
		{"repeat", head + "land,1,,0,0.05,in\n", "f.csv:2: repeat \"0\""},
		{"from end", head + "radial-runout,1,-1mm,1,0,in\n", "f.csv:2: from_end"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if _, _, err := ReadCSV(strings.NewReader(tt.in), "f.csv", testTool(), length.In); err == nil || !strings.HasPrefix(err.Error(), tt.want) {
				t.Errorf("got %v, want %q", err, tt.want)
			}
		})
	}
}

// Whatever is read, no figure that a person sees is NaN, infinite or out of nowhere, and judging never panics.
func FuzzJudge(f *testing.F) {
	f.Add(int64(0), int64(12_700_000), int64(5_080_000), int64(0), byte(3), byte(0))
	f.Add(int64(1), int64(1_000_000_000_000_000), int64(-1_000_000_000_000_000), int64(7), byte(1), byte(2))
	f.Fuzz(func(t *testing.T, a, b, c, d int64, repeats, stage byte) {
		in := inspection([]Stage{Before, Between, After}[int(stage)%3])
		const most = 1_000_000_000_000_000
		for _, feature := range Features {
			for repeat := 1; repeat <= int(repeats)%4+1; repeat++ {
				for flute, v := range []int64{a, b, c, d} {
					r := Reading{Feature: feature, Flute: flute + 1, Repeat: repeat, Value: length.Length(v % most), Text: "0.00000", Unit: length.In}
					if feature.Single() {
						r.Flute = 0
					}
					if r.Check(in.Tool) == nil {
						in.Readings = append(in.Readings, r)
					}
				}
			}
		}
		j := Judge(in)
		if len(j.Work) == 0 || strings.Contains(fmt.Sprint(j), "NaN") {
			t.Errorf("work %v from %v", j.Work, j)
		}
		for _, finding := range j.Findings {
			if p := finding.Probability; p != nil && !(*p >= 0 && *p <= 1) {
				t.Errorf("probability %v of %s", *p, finding.Feature)
			}
			if finding.Rule != "" && finding.Rule != statistics.Simple && finding.Rule != statistics.Guarded {
				t.Errorf("rule %q", finding.Rule)
			}
		}
	})
}

// A diameter that no half-inch tool has is refused when it is read, not judged.
func TestDiameterFarFromTheTools(t *testing.T) {
	in := inspection(After)
	for text, refused := range map[string]bool{"0.4975in": false, "4.975in": true, "0.04975in": true, "12.6mm": false, "12.6in": true, "0.25in": false, "0.2499in": true, "0.75in": false, "0.7501in": true} {
		value, err := length.Parse(text, length.None)
		if err != nil {
			t.Fatal(err)
		}
		r := Reading{Feature: Diameter, Repeat: 1, Value: value, Text: text, Unit: length.In}
		if err := in.Check(r); (err != nil) != refused {
			t.Errorf("%s: got %v, refused should be %v", text, err, refused)
		}
	}
}

// A tool that has grown since it was last read was read wrong, or is another one: a thou more is not doubted, a picometre
// over that is.
func TestDiameterOverTheLast(t *testing.T) {
	last := 490 * length.Thou
	for over, doubted := range map[length.Length]bool{-length.Thou: false, 0: false, length.Thou: false, length.Thou + 1: true, 20 * length.Thou: true} {
		in := inspection(After, []Reading{{Feature: Diameter, Repeat: 1, Value: last + over}})
		in.LastDiameter = &last
		f := find1(t, Judge(in), Diameter)
		got := f.Why != nil && f.Why.What == Doubted && f.Verdict == Undecided
		if got != doubted {
			t.Errorf("%v over the last diameter: doubted %v, want %v", over, got, doubted)
		}
	}
}

// What a bench leaves out of the usual list and was looked for all the same is not said to be unread.
func TestNotAskedWasNotRead(t *testing.T) {
	in := Inspection{Tool: testTool(), Stage: Before, Basis: DefaultBasis(testTool())}
	in.Basis.Required = []Item{Item(RadialRunout)}
	before := Judge(in).NotAsked
	in.Seen = []Seen{{Sight: Cracks}}
	after := Judge(in).NotAsked
	if !slices.Contains(before, Item(Cracks)) || slices.Contains(after, Item(Cracks)) || len(after) != len(before)-1 {
		t.Errorf("not asked: %v; with cracks looked for: %v", before, after)
	}
}

// What is printed as a doubt, and the probability beside it, follow from the same figures. The share .01/.06 of readings in
// hundredths has, by hand, u = .01/sqrt(12) hypot(1, 1/6)/.06 = .0488 and a gauge error of 7/6 .005/.06 = .0972, so that the
// true one is over the least of .1 with P(z < .0667/sqrt(.0488^2 + .0972^2/3) = .897) = .815 and under .5 as good as surely
// (JCGM 106:2012 7.2).
func TestProbabilityIsOfBothLimits(t *testing.T) {
	in := inspection(After, readings(EndPrimaryLand, 1, ".01", ".01", ".01", ".01"), readings(EndLand, 1, ".06", ".06", ".06", ".06"))
	f := find1(t, Judge(in), EndPrimaryLand)
	if f.Probability == nil || *f.Probability < .81 || *f.Probability > .83 {
		t.Errorf("conforms with %v, want about .815", *f.Probability)
	}
}

// The relief's probability counts the checking distance in, as the uncertainty beside it does: by the normal distribution, which
// Student's t with these degrees of freedom is near.
func TestReliefProbabilityCountsTheDistance(t *testing.T) {
	rs := [][]Reading{readings(PrimaryLand, 1, ".018", ".018", ".018", ".018")}
	for repeat := 1; repeat <= 6; repeat++ {
		v := []string{".00255", ".00256"}[repeat%2]
		rs = append(rs, readings(ReliefDrop, repeat, v, v, v, v))
	}
	f := find1(t, Judge(inspection(After, rs...)), ReliefDrop)
	if f.Uncertainty == nil || f.Probability == nil {
		t.Fatalf("no doubt of %+v", f)
	}
	u := math.Hypot(float64(f.Standard.Angle()), float64(f.GaugeError.Angle())/math.Sqrt(3))
	normal := func(z float64) float64 { return (1 + math.Erf(z/math.Sqrt2)) / 2 }
	want := normal(float64(f.Value.Angle()-f.Least.Angle())/u) + normal(float64(f.Most.Angle()-f.Value.Angle())/u) - 1
	if math.Abs(*f.Probability-want) > .02 {
		t.Errorf("conforms with %v, and by its own u with %v", *f.Probability, want)
	}
}

// A plain 0 tells nothing of how finely a gauge reads, and leaves a set without a doubt, not with one of an inch.
func TestPlainNoughtTellsNoStep(t *testing.T) {
	f := find1(t, Judge(inspection(After, readings(WearLand, 1, "0", "0", "0", "0"))), WearLand)
	if f.Verdict != Accept || f.Uncertainty != nil {
		t.Errorf("%s, ± %v; want accept and no ±", f.Verdict, f.Uncertainty)
	}
}

// Drops that are alike on every flute differ by nothing, and tell no step but the division that they are written in. Three rounds
// of .0024 in over .018, written to a hundredth of a thou, q: u = q sqrt(2/12), t(0.99375, 8) = 3.21 (any table) for four flutes
// from both sides, q/3 pi for means that lie a third of a step apart and q/2 of the gauge's own: 1.92 q, over .018 in 0.061 deg.
func TestDropsThatAreAlikeTellNoStep(t *testing.T) {
	rs := [][]Reading{readings(PrimaryLand, 1, ".018", ".018", ".018", ".018")}
	for repeat := 1; repeat <= 3; repeat++ {
		rs = append(rs, readings(ReliefDrop, repeat, ".00240", ".00240", ".00240", ".00240"))
	}
	in := inspection(After, rs...)
	in.Basis.CheckingDistance, in.Basis.DistanceError = 18*length.Thou, 1
	if step := in.Step(ReliefDrop); step != length.Tenth/10 {
		t.Fatalf("step %v, want a hundredth of a thou", step)
	}
	f := find1(t, Judge(in), ReliefDrop)
	if got := float64(f.Uncertainty.Angle()) / float64(length.Degree); math.Abs(got-0.061) > 0.003 {
		t.Errorf("known to %v deg, want 0.061", got)
	}
	in.Readings[4].Value -= 5 * length.Tenth / 100 // what differs tells a finer one, were it written so
	in.Readings[4].Text = ".002395"
	if step := in.Step(ReliefDrop); step != length.Tenth/20 {
		t.Errorf("step %v, want half a hundredth of a thou", step)
	}
	noughts := inspection(After, readings(RadialRunout, 1, "0", "0", "0", "0"), readings(ReliefDrop, 1, ".0024", ".0024", ".0024", ".0024"))
	if step := noughts.Step(RadialRunout); step != length.Tenth {
		t.Errorf("noughts without a decimal: step %v, want that of the drops, a tenth", step)
	}
}

// Heights that happen to lie 30 tenths apart make no gauge in thirties: what is over the limit is rejected where nobody stated the
// step, with a flute unread too, and with two flutes only.
func TestStepNotStatedHidesNoReject(t *testing.T) {
	three := inspection(After, readings(RadialRunout, 1, "0.0000", "0.0030", "0.0060"), readings(RadialRunout, 2, "0.0000", "0.0030", "0.0060"))
	two := inspection(After, readings(RadialRunout, 1, "0.0000", "0.0030"), readings(RadialRunout, 2, "0.0000", "0.0030"))
	two.Tool.Flutes = 2
	shank := inspection(After, readings(ShankRunout, 1, "0.0000", "0.0030", "0.0060", "0.0030"), readings(ShankRunout, 2, "0.0000", "0.0030", "0.0060", "0.0030"))
	for _, in := range []Inspection{three, two, shank} {
		in.Readings = append(in.Readings, Reading{Feature: in.Readings[0].Feature, Flute: 1, Closing: true, Text: "0.0000", Unit: length.In})
		j := Judge(in)
		if f := find1(t, j, in.Readings[0].Feature); f.Verdict != Reject {
			t.Errorf("%s of %d flutes: %s, %+v", f.Feature, in.Tool.Flutes, f.Verdict, f.Why)
		}
		if j.Calls(ReadOn) {
			t.Errorf("%v, want a work", j.Work)
		}
	}
}

// A share's widths have each its own step. Written to a tenth, q1, and to a thou, q2, and read once: by hand, z(0.99375) = 2.4977
// (normal table) for four flutes from both sides, U = (2.4977 sqrt(q1^2 + q2^2/16) / sqrt 12 + q1/2 + q2/8) / .080.
func TestShareTakesEachItsStep(t *testing.T) {
	in := inspection(After, readings(PrimaryLand, 1, ".0200", ".0200", ".0200", ".0200"), readings(Land, 1, ".080", ".080", ".080", ".080"))
	f := find1(t, Judge(in), PrimaryLand)
	q1, q2 := .0001, .001
	want := (2.4977*math.Sqrt(q1*q1+q2*q2/16)/math.Sqrt(12) + q1/2 + q2/8) / .080
	if f.Uncertainty == nil || math.Abs(f.Uncertainty.Share().Value()-want) > 1e-5 {
		t.Errorf("share known to %v, want %v", f.Uncertainty.Share().Value(), want)
	}
}

// The step that was taken is told for each figure that rests on another.
func TestStepTakenIsToldByFigure(t *testing.T) {
	j := Judge(inspection(After, readings(WearLand, 1, ".001", ".002", ".001", ".001"), readings(Diameter, 1, ".4962")))
	want := map[Feature]length.Length{WearLand: length.Thou, Diameter: length.Tenth}
	for _, n := range j.Notes {
		for _, taken := range n.Taken {
			for _, f := range taken.Of {
				if n.What == StepNotStated && want[f] == taken.Value.Length() {
					delete(want, f)
				}
			}
		}
	}
	if len(want) > 0 {
		t.Errorf("not told: %v in %+v", want, j.Notes)
	}
}
