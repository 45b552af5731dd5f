package desk_test

import (
	"fmt"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/length"
)

// Lines go in, prompts and effects come out: whoever runs the desk does the effects, here none but printing them.
func Example() {
	tool := inspect.Tool{
		ID: "EM-0412", Diameter: length.Inch / 2, Flutes: 2, Material: inspect.HSS, Helix: 30 * length.Degree,
		Hand: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing,
	}
	now := time.Date(2026, 11, 27, 8, 0, 0, 0, time.UTC)
	d := desk.New(desk.Start{
		Inspection: inspect.Inspection{ID: "EM-0412.1", Tool: tool, Stage: inspect.Before, Holding: inspect.InFixture, Basis: inspect.DefaultBasis(tool)},
		Plan:       desk.Plan{Rounds: 1, Features: []inspect.Feature{inspect.WearLand}},
		At:         now,
	})
	say := func(text string) {
		now = now.Add(2 * time.Second)
		err := d.Run(desk.Line{At: now, Text: text}, func(e desk.Effect) error {
			if keep, ok := e.(desk.Keep); ok && keep.Reading != nil {
				fmt.Println("  keep", keep.Reading.Feature, keep.Reading.Flute, keep.Reading.Value.In(length.In))
			}
			return nil
		})
		if err != nil {
			fmt.Println(err)
		}
		p := d.Prompt()
		fmt.Println(text+":", p.Label)
		if p.Refused != "" {
			fmt.Println("  refused:", p.Refused)
		}
	}
	say("0.009")
	say("ninety")
	say("0.008")
	// Output:
	//   keep wear-land 1 0.00900 in
	// 0.009: flute 2, in
	// ninety: flute 2, in
	//   refused: A number is asked here. ? shows the keys.
	//   keep wear-land 2 0.00800 in
	// 0.008: close
}
