package answers_test

import (
	"fmt"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/published"
)

func toolOf(diameter string, m inspect.Material, d inspect.Duty) inspect.Tool {
	l, err := length.Parse(diameter, length.In)
	if err != nil {
		panic(err)
	}
	return inspect.Tool{ID: "T", Diameter: l, Flutes: 4, Material: m, Hand: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: d}
}

// The default relief, its checking distance and the drops at both ends of its band are those of the handbook's table, row
// by row; the drops remembered with it are within what its print can tell.
func TestReliefLimitsAreTheHandbooks(t *testing.T) {
	rows := published.Rows(t, "../../testdata/published/indicator_drop_table.csv")
	if len(rows) != 50 {
		t.Fatalf("%d rows", len(rows))
	}
	for i, row := range rows {
		tool := toolOf(row[0], inspect.HSS, inspect.Finishing)
		relief, err := length.ParseAngle(row[1])
		if err != nil {
			t.Fatal(err)
		}
		least, most := inspect.DefaultLimits(tool)[inspect.ReliefDrop].Angles()
		if bound := []*length.Angle{least, most}[i%2]; *bound != relief {
			t.Errorf("%s in: limit %s, the table has %s", row[0], bound, relief)
		}
		wide := inspect.Inspection{Tool: tool, Basis: inspect.DefaultBasis(tool), Readings: []inspect.Reading{{Feature: inspect.PrimaryLand, Value: 60 * length.Thou}}}
		distance, err := length.Parse(row[2], length.In)
		if err != nil || wide.CheckingDistance() != distance {
			t.Errorf("%s in: checked over %s, the table has %s in", row[0], wide.CheckingDistance().In(length.In), row[2])
		}
		drop, err := geometry.Relief{Diameter: tool.Diameter, Distance: distance}.Drop(relief)
		if err != nil {
			t.Fatal(err)
		}
		if got := drop.Format(length.In, 6); got != row[4] {
			t.Errorf("%s in, %s deg: drop %s, the table has %s", row[0], row[1], got, row[4])
		}
		printed, err := length.Parse(row[3], length.In)
		if err != nil || (printed-drop).Abs() > 9*length.Inch/100_000 {
			t.Errorf("%s in, %s deg: drop %s, the handbook prints %s", row[0], row[1], drop.In(length.In), row[3])
		}
	}
}

// Widths, wear and run-out by diameter, between and beyond the rows, worked by hand from the rule (common practice, no
// source): widths and wear linear between rows, under 1/8 in by their share of the diameter; run-out by steps.
func TestLimitsScale(t *testing.T) {
	for _, tt := range []struct {
		diameter   string
		material   inspect.Material
		duty       inspect.Duty
		width      string // least and most
		wear, tir  string
		relief     string
		smallest   string
		whyTheRows string
	}{
		{"0.0625", inspect.HSS, inspect.Finishing, "0.00150 0.00400", "0.00100", "0.00030", "20 25", "0.05625", "2.4 and 6.4 % of D; 1.6 %"},
		{"0.0625", inspect.Carbide, inspect.Finishing, "0.00150 0.00400", "0.00063", "0.00030", "20 25", "0.05938", "1 % of D is 0.000625"},
		{"0.111", inspect.HSS, inspect.Finishing, "0.00266 0.00710", "0.00178", "0.00030", "15 19", "0.09990", "to 0.111 in 0.0003"},
		{"0.1111", inspect.HSS, inspect.Finishing, "0.00267 0.00711", "0.00178", "0.00050", "15 19", "0.09999", "over 0.111 in 0.0005"},
		{"0.125", inspect.HSS, inspect.Finishing, "0.00300 0.00800", "0.00200", "0.00050", "15 19", "0.11250", "the first row"},
		{"0.1875", inspect.HSS, inspect.Finishing, "0.00500 0.01000", "0.00300", "0.00050", "12 16", "0.16875", "half way from 1/8 to 1/4"},
		{"0.25", inspect.Carbide, inspect.Finishing, "0.00700 0.01200", "0.00250", "0.00030", "10 14", "0.23750", "a row"},
		{"0.375", inspect.Cobalt, inspect.Finishing, "0.01000 0.01500", "0.00600", "0.00050", "10 13", "0.33750", "a row"},
		{"0.5", inspect.HSS, inspect.Finishing, "0.01500 0.02000", "0.00800", "0.00050", "9 12", "0.45000", "a row"},
		{"0.5", inspect.HSS, inspect.Roughing, "0.01500 0.02000", "0.00800", "0.00100", "9 12", "0.45000", "roughing double"},
		{"0.1", inspect.HSS, inspect.Roughing, "0.00240 0.00640", "0.00160", "0.00100", "16 20", "0.09000", "roughing 0.001 at least"},
		{"0.625", inspect.HSS, inspect.Finishing, "0.01750 0.02400", "0.00800", "0.00100", "8 11", "0.56250", "half way from 1/2 to 3/4"},
		{"0.75", inspect.Carbide, inspect.Finishing, "0.02000 0.02800", "0.00500", "0.00050", "8 11", "0.71250", "a row"},
		{"0.875", inspect.HSS, inspect.Finishing, "0.02250 0.03150", "0.00900", "0.00100", "8 11", "0.78750", "half way from 3/4 to 1"},
		{"1", inspect.HSS, inspect.Finishing, "0.02500 0.03500", "0.01000", "0.00100", "7 10", "0.90000", "a row"},
		{"1.25", inspect.Carbide, inspect.Finishing, "0.03000 0.04500", "0.00800", "0.00050", "6 9", "1.18750", "the last row"},
		{"2", inspect.HSS, inspect.Finishing, "0.03000 0.04500", "0.01200", "0.00100", "6 9", "1.80000", "past it"},
		{"0.4724409449", inspect.HSS, inspect.Finishing, "0.01390 0.01890", "0.00756", "0.00050", "9 12", "0.42520", "12 mm: 0.0974/0.125 = 0.7795 from 3/8 to 1/2"},
	} {
		t.Run(fmt.Sprint(tt.diameter, " ", tt.material, " ", tt.duty), func(t *testing.T) {
			l := inspect.DefaultLimits(toolOf(tt.diameter[:min(len(tt.diameter), 10)], tt.material, tt.duty))
			in := func(q *inspect.Quantity) string { return q.Length().Format(length.In, 5) }
			width := in(l[inspect.PrimaryWidth].Least) + " " + in(l[inspect.PrimaryWidth].Most)
			relief := l[inspect.ReliefDrop].Least.Angle().Format(0) + " " + l[inspect.ReliefDrop].Most.Angle().Format(0)
			got := []string{width, in(l[inspect.WearLand].Most), in(l[inspect.RadialRunout].Most), relief, in(l[inspect.Diameter].Least)}
			if want := []string{tt.width, tt.wear, tt.tir, tt.relief, tt.smallest}; fmt.Sprint(got) != fmt.Sprint(want) {
				t.Errorf("got %q, want %q (%s)", got, want, tt.whyTheRows)
			}
			for _, f := range []inspect.Feature{inspect.AxialRunout, inspect.ShankRunout} {
				if in(l[f].Most) != tt.tir {
					t.Errorf("%s: %s, want that of radial run-out", f, in(l[f].Most))
				}
			}
		})
	}
}

// What is judged and what is advice where the bench file says nothing.
func TestWhichLimitsAreJudged(t *testing.T) {
	judged := map[inspect.Feature]bool{
		inspect.RadialRunout: true, inspect.AxialRunout: true, inspect.ShankRunout: true, inspect.Concentricity: true, inspect.Taper: true, inspect.WearLand: true,
		inspect.PrimaryLand: true, inspect.ReliefDrop: true, inspect.Diameter: true,
	}
	l := inspect.DefaultLimits(toolOf("0.5", inspect.HSS, inspect.Finishing))
	for f, limit := range l {
		if limit.Judged != judged[f] {
			t.Errorf("%s: judged %v", f, limit.Judged)
		}
	}
	if len(l) != 15 || l[inspect.Concentricity].Set() {
		t.Errorf("%d limits; concentricity %+v", len(l), l[inspect.Concentricity])
	}
}

// The checking distance on the widths that were read: the table's where they are as wide in the section, else a whole thou
// (0.02 mm in a metric shop) that is a thou under the narrowest. By hand: 0.012 in at 30 degrees of helix is 0.01386 in
// round the tool, less a thou 0.01286, so 0.012; 0.35 mm straight, less a thou 0.3246 mm, so 0.32 mm.
func TestCheckingDistance(t *testing.T) {
	for _, tt := range []struct {
		widths []string
		helix  length.Angle
		unit   length.Unit
		stated string
		want   string
	}{
		{[]string{"0.020in", "0.025in"}, 0, length.In, "", "0.02000 in"},
		{[]string{"0.0199in", "0.025in"}, 0, length.In, "", "0.01800 in"},
		{[]string{"0.018in", "0.025in"}, 30, length.In, "", "0.02000 in"},
		{[]string{"0.012in"}, 30, length.In, "", "0.01200 in"},
		{[]string{"0.35mm"}, 0, length.Mm, "", "0.01260 in"},
		{nil, 0, length.In, "", "0.01400 in"}, // the least usual width is 0.015
		{[]string{"0.012in"}, 0, length.In, "0.010in", "0.01000 in"},
		{[]string{"0.001in"}, 0, length.In, "", "0.00100 in"},
	} {
		tool := toolOf("0.5", inspect.HSS, inspect.Finishing)
		tool.Helix = tt.helix * length.Degree
		in := inspect.Inspection{Tool: tool, Basis: inspect.DefaultBasis(tool)}
		in.Basis.Unit = tt.unit
		for _, w := range tt.widths {
			l, err := length.Parse(w, length.None)
			if err != nil {
				t.Fatal(err)
			}
			in.Readings = append(in.Readings, inspect.Reading{Feature: inspect.PrimaryLand, Value: l})
		}
		if tt.stated != "" {
			l, err := length.Parse(tt.stated, length.None)
			if err != nil {
				t.Fatal(err)
			}
			in.Basis.CheckingDistance = l
		}
		if got := in.CheckingDistance().In(length.In); got != tt.want {
			t.Errorf("%q at %d degrees in a shop of %s: %s, want %s", tt.widths, tt.helix, tt.unit, got, tt.want)
		}
	}
}
