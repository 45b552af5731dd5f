package study_test

import (
	"fmt"
	"strings"

	"flutelog/inspect/study"
)

// Two inspectors read three parts twice each, in tenths of a thou; the numbers are invented. EV is what one person's repeats
// differ by, AV what the two differ by, GRR both, and ndc how many sizes of part the gauge can tell apart: 1.41 PV / GRR.
func ExampleAnalyseCrossed() {
	trials, err := study.ReadCrossed(strings.NewReader(`part,inspector,trial,value
1,Vale,1,10
1,Vale,2,11
1,Moss,1,11
1,Moss,2,12
2,Vale,1,20
2,Vale,2,21
2,Moss,1,21
2,Moss,2,22
3,Vale,1,30
3,Vale,2,31
3,Moss,1,31
3,Moss,2,32
`))
	if err != nil {
		fmt.Println(err)
		return
	}
	c, err := study.AnalyseCrossed(trials, 40)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("EV %.3f, AV %.3f, GRR %.3f, PV %.3f\n", c.EquipmentSD, c.AppraiserSD, c.GaugeSD, c.PartSD)
	fmt.Printf("GRR is %.0f %% of the tolerance, ndc %d\n", *c.PercentOfTolerance, c.Categories)
	// By hand, the interaction counted as noise: EV^2 = 3/8, AV^2 = (3 - 3/8) / 6, PV^2 = (400 - 3/8) / 4.

	// Output:
	// EV 0.612, AV 0.661, GRR 0.901, PV 9.995
	// GRR is 14 % of the tolerance, ndc 15
}
