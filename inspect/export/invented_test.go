package export

import (
	"fmt"
	"math/rand/v2"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// texts are what people may write, some of it of the worst.
var texts = []string{"", "Vale", "Müller", `A&<"é 漢 -->`, "two\nlines\tand a tab", "bell\x07", "  spaces  ", "]]>", "'=1+1", "\u202eltr", "\ufffe"}

// invented returns an inspection of which everything is invented at random; no two seeds give the same. What stands in it need
// not fit together: the writers are to cope.
func invented(seed uint64) Inspection {
	r := rand.New(rand.NewPCG(seed, 1))
	pick := func(n int) int { return r.IntN(n) }
	text := func() string { return texts[pick(len(texts))] }
	toolID := []string{"EM-0412", "412", "é/ü", "A B", "x"}[pick(5)]
	in := Inspection{
		ID: fmt.Sprintf("%s.%d", toolID, seed+1), ToolBench: "a1b2c3d4e5f60718", Bench: "a1b2c3d4e5f60718",
		Tool: inspect.Tool{
			ID: toolID, Diameter: length.Length(1+pick(50)) * length.Millimetre, Flutes: 1 + pick(12), Material: inspect.HSS, Hand: inspect.RightHand,
			Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing,
		},
		Job: text(), Inspector: text(), Stage: []inspect.Stage{inspect.Before, inspect.Between, inspect.After}[pick(3)],
		Holding: []inspect.Holding{"", inspect.InFixture, inspect.InVee, inspect.InCollet}[pick(4)], Reseated: pick(2) == 0, GivenUp: pick(10) == 0,
		Opened: "2026-11-27T02:33:35.302896Z", Closed: "2026-11-27T02:35:00.000001Z", ClockSet: pick(4) > 0,
		JudgedBy: "/home/somebody/bench.toml 720a50e49824d23403af9920", Answer: "RELEASE: " + text(),
		Verdict: []inspect.Verdict{inspect.Accept, inspect.Reject, inspect.Undecided, inspect.NotJudged}[pick(4)],
		Calls:   []Calls{CallsNothing, CallsGrind, CallsPerson, CallsForReading}[pick(4)],
		Standing: []record.Standing{
			record.StandsReceived, record.StandsToGrind, record.StandsToFinish, record.StandsToInspect, record.StandsToSign, record.StandsReleased, record.StandsConceded, record.StandsLocked, record.StandsRecalled, record.StandsWithdrawn, record.StandsRetired,
		}[pick(11)],
		Corrected: pick(3) == 0, Head: "a1b2c3d4e5f60718-21-915d4d", SummaryHead: "a1b2c3d4e5f60718-20-00",
		Records: []string{fmt.Sprint(seed)}, NewestAt: "2026-11-27T02:36:00.000000Z", NewestSet: true,
		Gauges: map[string]Instrument{
			"indicator":  {Serial: "IND-0071", Resolution: 1270 * length.Nanometre, PermissibleError: 2540 * length.Nanometre, CalibrationDue: "2027-06-30"},
			"micrometer": {Serial: text()},
		},
	}
	gauges := []string{"", "indicator", "micrometer", "not in the bench file"}
	if in.Stage == inspect.After && pick(3) == 0 {
		in.TrueIn = inspect.InFixture
	}
	if pick(2) == 0 {
		in.Ruling = &Ruling{Word: []string{"release", "concession", "withdraw"}[pick(3)], By: "Vale", Why: text(), At: "2026-11-27T02:36:00.000000Z", ClockSet: in.ClockSet}
	}
	some := func(most int64) length.Length { return length.Length(r.Int64N(most)) }
	features := append([]inspect.Feature{inspect.Concentricity, inspect.PrimaryWidth, inspect.Heel}, inspect.Features...)
	for range pick(12) {
		f := Figure{
			Feature: features[pick(len(features))], Flute: pick(4), Source: text(), Rule: []string{"", "simple", "guarded"}[pick(3)],
			Verdict: []inspect.Verdict{inspect.Accept, inspect.Reject, inspect.Undecided, inspect.NotJudged}[pick(4)],
			Gauge:   gauges[pick(4)], Advice: pick(8) == 0,
		}
		f.Name = f.Feature.Name()
		kind := func(n int64) inspect.Quantity {
			switch f.Feature {
			case inspect.PrimaryLand, inspect.EndPrimaryLand:
				return inspect.ShareQuantity(float64(n) / 1e9)
			case inspect.ReliefDrop, inspect.SecondaryDrop, inspect.EndReliefDrop, inspect.EndSecondaryDrop, inspect.Dish:
				return inspect.AngleQuantity(length.Angle(n) * 10)
			}
			return inspect.LengthQuantity(length.Length(n))
		}
		maybe := func(n int64) *inspect.Quantity {
			if pick(3) == 0 {
				return nil
			}
			q := kind(n)
			return &q
		}
		f.Value, f.Uncertainty, f.Standard, f.Target = maybe(r.Int64N(1e9)), maybe(r.Int64N(1e7)), maybe(r.Int64N(1e7)), maybe(1e8)
		f.Least, f.Most = maybe(r.Int64N(1e8)), maybe(1e8+r.Int64N(1e8))
		if pick(2) == 0 {
			n := pick(60)
			f.DF = &n
		}
		if pick(2) == 0 {
			p := []float64{0, 1, 0.9999999999, 1e-12, 0.5, 0.123456789}[pick(6)]
			f.Probability = &p
		}
		if pick(3) == 0 {
			l := some(5e10)
			f.FromEnd, f.Over = &l, &l
		}
		in.Figures = append(in.Figures, f)
	}
	for range pick(40) {
		reading := inspect.Reading{
			Feature: inspect.Features[pick(len(inspect.Features))], Flute: pick(in.Tool.Flutes + 1), Repeat: 1 + pick(3), Value: some(1e12) - 1e9,
			Text: text() + "0.0050", Unit: []length.Unit{length.In, length.Mm, length.Thous, length.Tenths, length.Um}[pick(5)], Gauge: gauges[pick(4)],
		}
		if in.ClockSet {
			reading.At = "2026-11-27T02:34:00.000000Z"
		}
		if pick(3) == 0 {
			l := some(5e10)
			reading.FromEnd = &l
		}
		if pick(9) == 0 {
			reading.Repeat, reading.Closing = 0, true
		}
		in.Readings = append(in.Readings, reading)
	}
	for _, s := range inspect.Sights[:pick(len(inspect.Sights)+1)] {
		in.Seen = append(in.Seen, inspect.Seen{Sight: s, Yes: pick(3) == 0, Note: text()})
	}
	for range in.Tool.Flutes * pick(2) {
		in.Radial = append(in.Radial, some(1e7))
		in.Axial = append(in.Axial, some(1e7))
	}
	return in
}
