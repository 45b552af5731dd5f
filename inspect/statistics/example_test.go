package statistics_test

import (
	"fmt"

	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// Three rounds over four flutes with an indicator of 0.0001 in a division. The run-out is held against 0.0005 in with the noise that
// the rounds show.
func Example() {
	u := length.Tenth
	readings := statistics.Readings{
		Flutes:   [][]length.Length{{0, 0, 0}, {u, u, 2 * u}, {2 * u, 2 * u, 2 * u}, {u, u, u}},
		Accuracy: statistics.Accuracy{Resolution: u / 2},
	}
	heights, err := readings.Heights()
	if err != nil {
		fmt.Println(err)
		return
	}
	most := 5 * u
	decision, err := statistics.Decide(heights.TIR(), nil, &most, statistics.Guarded)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println("TIR", decision.Value.In(length.In))
	fmt.Println(decision.Verdict)
	// Output:
	// TIR 0.00020 in
	// accept
}
