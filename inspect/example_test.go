package inspect_test

import (
	"fmt"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/words"
)

// A tool of 1/2 in before the grind: what was read of each flute, and what was seen, come to verdicts and to work.
func ExampleJudge() {
	tool := inspect.Tool{
		ID: "EM-0412", Diameter: length.Inch / 2, Flutes: 4, Material: inspect.HSS, Helix: 30 * length.Degree,
		Hand: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing,
	}
	in := inspect.Inspection{ID: "EM-0412.1", Tool: tool, Stage: inspect.Before, Holding: inspect.InFixture, Basis: inspect.DefaultBasis(tool)}
	for _, sight := range inspect.Sights {
		in.Seen = append(in.Seen, inspect.Seen{Sight: sight}) // looked for, and not seen
	}
	read := func(feature inspect.Feature, thou ...float64) {
		for i, t := range thou {
			in.Readings = append(in.Readings, inspect.Reading{
				Feature: feature, Flute: i + 1, Repeat: 1, Value: length.Length(t * float64(length.Thou)), Unit: length.In,
			})
		}
	}
	read(inspect.RadialRunout, 0, -.1, .1, .1)
	read(inspect.WearLand, 7, 8, 7, 9)
	read(inspect.PrimaryLand, 12, 12, 12, 13)
	read(inspect.Land, 80, 80, 80, 81)
	read(inspect.EndPrimaryLand, 10, 10, 10, 10)
	read(inspect.EndLand, 60, 60, 60, 60)
	read(inspect.Diameter, 496.2)
	in.Readings[len(in.Readings)-1].Flute = 0

	j := inspect.Judge(in)
	fmt.Println("verdict:", j.Verdict)
	for _, w := range j.Work {
		fmt.Println("work:", w.What)
	}
	fmt.Println(words.Of(in, j, length.In).Headline) // the same in words
	// Output:
	// verdict: worth grinding
	// work: grind primary
	// GRIND PRIMARY: flute 4 is worn 0.00900 in, the most is 0.00800 in
}
