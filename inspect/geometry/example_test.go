package geometry_test

import (
	"fmt"

	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
)

// An indicator falls 0.0032 in over 0.020 in behind the edge of a tool of 1/2 in that is turned under it. By hand: 0.020/0.25 radians,
// and the tangent is (0.25 - 0.2468 cos)/(0.2468 sin) of them.
func ExampleRelief() {
	check := geometry.Relief{Diameter: length.Inch / 2, Distance: 20 * length.Thou}
	relief, err := check.Angle(32 * length.Tenth)
	if err != nil {
		fmt.Println(err)
		return
	}
	turn, err := check.Turn()
	fmt.Printf("%s deg of relief, over a turn of %s deg, %v\n", relief.Format(2), turn.Format(2), err)
	drop, err := check.Drop(10 * length.Degree)
	fmt.Println("10 deg would fall", drop.In(length.In), err)
	// Output:
	// 11.43 deg of relief, over a turn of 4.58 deg, <nil>
	// 10 deg would fall 0.00269 in <nil>
}

// Four heights of one turn: how far the tool is held off its centre, and what is left of each tooth without that. By hand, in tenths:
// the root of (0-8)²/4 + (4-6)²/4, and (0 - 4 + 8 - 6)/4 on every other tooth.
func ExampleFitRunout() {
	heights := []length.Length{0, 4 * length.Tenth, 8 * length.Tenth, 6 * length.Tenth}
	run, err := geometry.FitRunout(heights, geometry.EqualAngles(4))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println("TIR", geometry.TIR(heights).In(length.In))
	fmt.Println("off centre by", run.Eccentricity.In(length.In))
	for i, r := range run.Residuals {
		fmt.Println("flute", i+1, "by itself", r.In(length.In))
	}
	// Output:
	// TIR 0.00080 in
	// off centre by 0.00041 in
	// flute 1 by itself -0.00005 in
	// flute 2 by itself 0.00005 in
	// flute 3 by itself -0.00005 in
	// flute 4 by itself 0.00005 in
}
