package export

import (
	"fmt"
	"math/rand/v2"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/statistics"
)

// judged returns an invented inspection with what it came to, as a record would give it: a tool, gauges and readings at
// random that fit together, noise and faults included.
func judged(seed uint64) record.Account {
	r := rand.New(rand.NewPCG(seed, 7))
	pick := func(n int) int { return r.IntN(n) }
	tool := inspect.Tool{
		ID: fmt.Sprintf("EM-%d", seed), Flutes: 1 + pick(8), Material: inspect.Materials[pick(3)], Helix: 30 * length.Degree, Hand: inspect.RightHand,
		Diameter: []length.Length{length.Inch / 8, length.Inch / 2, 12 * length.Millimetre, length.Inch}[pick(4)],
		Ends:     []inspect.Ends{inspect.SquareEnd, inspect.ChamferedEnd, inspect.RadiusEnd, inspect.BallEnd}[pick(4)],
		Teeth:    []inspect.Teeth{inspect.PlainTeeth, inspect.PlainTeeth, inspect.ChipBreakerTeeth}[pick(3)], Duty: []inspect.Duty{inspect.Finishing, inspect.Roughing}[pick(2)],
	}
	in := inspect.Inspection{
		ID: tool.ID + ".2", Tool: tool, Stage: []inspect.Stage{inspect.Before, inspect.Between, inspect.After, inspect.After}[pick(4)], Job: "J-17", Inspector: "Vale",
		Holding: inspect.Holdings[pick(len(inspect.Holdings))], Basis: inspect.DefaultBasis(tool),
	}
	step := []length.Length{length.Tenth / 2, length.Tenth, length.Micrometre}[pick(3)]
	in.Basis.Gauges = map[string]inspect.Instrument{
		"indicator":  {Resolution: step, PermissibleError: length.Length(pick(3)) * step, Serial: "0071", CalibrationDue: "2027-06-30"},
		"micrometer": {Resolution: step, PermissibleError: step, Repeatability: 0.6, RepeatabilityDF: 10},
		"microscope": {Resolution: length.Tenth, PermissibleError: length.Length(pick(3)) * length.Tenth},
	}
	in.Basis.Looks = pick(4) == 0
	repeats := 1 + pick(4)
	guarded := pick(2) == 0
	if guarded {
		in.Basis.WorkRule = statistics.Guarded
		repeats++
	}
	noise := float64(step) * []float64{0, 0.4, 1}[pick(3)]
	read := func(f inspect.Feature, gauge string, flute, repeat int, closing bool, value length.Length) {
		shown := (value + length.Length(r.NormFloat64()*noise) + step/2) / step * step
		reading := inspect.Reading{
			Feature: f, Flute: flute, Repeat: repeat, Closing: closing, Value: shown, Text: exact(shown), Unit: length.Mm, Gauge: gauge, At: "2026-11-27T02:34:00.000000Z",
		}
		if f == inspect.RadialRunout && seed%3 > 0 {
			reading.FromEnd = ptr(100 * length.Thou)
		}
		if in.Check(reading) == nil {
			in.Readings = append(in.Readings, reading)
		}
	}
	all := func(f inspect.Feature, gauge string, n int, value func(flute int) length.Length) {
		if pick(4) == 0 {
			return
		}
		for repeat := range n {
			for flute := range tool.Flutes {
				read(f, gauge, flute+1, repeat+1, false, value(flute))
			}
		}
		if f.Heights() && n > 1 && pick(3) > 0 {
			read(f, gauge, 1, 0, true, value(0))
		}
	}
	out := length.Length(pick(14)) * length.Tenth // half of what is allowed, about it, or much more
	height := func(flute int) length.Length { return out * length.Length(flute%3) / 2 }
	d := tool.Diameter
	all(inspect.ShankRunout, "indicator", repeats, func(flute int) length.Length { return height(flute) / 2 })
	all(inspect.RadialRunout, "indicator", repeats, height)
	all(inspect.AxialRunout, "indicator", repeats, height)
	wear, primary := d*length.Length(pick(20))/1000, d*length.Length(10+pick(50))/1000
	if guarded && pick(2) > 0 { // at about half of the land, which is the most
		primary = d*4/100 + length.Length(pick(9)-6)*step
	}
	all(inspect.WearLand, "microscope", 1, func(int) length.Length { return wear })
	all(inspect.PrimaryLand, "microscope", 1+pick(2), func(flute int) length.Length { return primary + length.Length(flute)*length.Tenth })
	all(inspect.Land, "microscope", 1+pick(2), func(int) length.Length { return d * 8 / 100 })
	all(inspect.EndPrimaryLand, "microscope", 1, func(int) length.Length { return primary })
	all(inspect.EndLand, "microscope", 1, func(int) length.Length { return d * 8 / 100 })
	drop := d * length.Length(2+pick(8)) / 1000
	if guarded {
		drop = d*length.Length(4+pick(4))/1000 + length.Length(pick(9)-4)*step
	}
	all(inspect.ReliefDrop, "indicator", repeats, func(int) length.Length { return drop })
	all(inspect.SecondaryDrop, "indicator", repeats, func(int) length.Length { return drop * 2 })
	all(inspect.EndReliefDrop, "indicator", repeats, func(int) length.Length { return drop })
	all(inspect.Dish, "indicator", 1, func(int) length.Length { return d / 4 * 3 / 100 })
	for repeat := range repeats * pick(2) {
		read(inspect.Diameter, "micrometer", 0, repeat+1, false, d-length.Length(pick(3))*d/20)
	}
	read(inspect.Length, "", 0, 1, false, 3*length.Inch)
	for _, s := range inspect.Sights {
		if pick(5) > 0 {
			in.Seen = append(in.Seen, inspect.Seen{Sight: s, Yes: pick(25) == 0})
		}
	}
	hash := func(n int) string { return fmt.Sprintf("%064x", seed*10+uint64(n)) }
	at := func(seq uint64) ledger.Record {
		return ledger.Record{
			Bench: "a1b2c3d4e5f60718", Seq: seq, Counter: seq, Hash: hash(int(seq)),
			Time: ledger.Time{UTC: time.Date(2026, 11, 27, 2, 35, int(seq), 0, time.UTC), Synchronised: true},
		}
	}
	a := record.Account{First: at(1), Rests: []ledger.Record{at(4)}}
	a.Inspection = record.Inspection{
		Inspection: in, Judgement: inspect.Judge(in), Opened: "2026-11-27T02:33:30.000000Z", Closed: "2026-11-27T02:35:04.000000Z", Record: at(4), Newest: at(4),
	}
	a.Inspection.Taken = at(3)
	a.Of.Tool, a.Of.Standing, a.Of.Inspection = tool, record.StandsToSign, in.ID
	return a
}
