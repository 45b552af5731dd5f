package trend

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"flutelog/inspect/length"
)

// By hand: all records on the line of 50 um a division leave no residual, so the interval is the step alone.
func TestEstimateStock(t *testing.T) {
	const um = length.Micrometre
	five := []StockRecord{{1, 50 * um}, {2, 100 * um}, {3, 150 * um}, {2, 100 * um}, {4, 200 * um}}
	tests := []struct {
		name      string
		records   []StockRecord
		divisions int
		want      StockEstimate
	}{
		{"five records", five, 3, StockEstimate{150 * um, 149 * um, 151 * um, Basis{5, true, "from 5 records"}}},
		{"the most recorded", five, 4, StockEstimate{200 * um, 199 * um, 201 * um, Basis{5, true, "from 5 records"}}},
		{"more than recorded", five, 5, StockEstimate{70 * um, 70 * um, 70 * um,
			Basis{5, false, "none of the 5 records has as many as 5 divisions: geometry used"}}},
		{"four records", five[:4], 3, StockEstimate{70 * um, 70 * um, 70 * um,
			Basis{4, false, "too few records (4, 5 are needed): geometry used"}}},
		{"no records", nil, 3, StockEstimate{70 * um, 70 * um, 70 * um,
			Basis{0, false, "too few records (0, 5 are needed): geometry used"}}},
	}
	for _, test := range tests {
		got, err := EstimateStock(test.records, test.divisions, 2*um, 70*um)
		if err != nil {
			t.Fatal(err)
		}
		if got != test.want {
			t.Errorf("%s: got %+v, want %+v", test.name, got, test.want)
		}
	}
}

func TestEstimateRelief(t *testing.T) {
	const deg = length.Degree
	five := []ReliefRecord{{8 * deg, 9 * deg}, {10 * deg, 11 * deg}, {12 * deg, 13 * deg}, {9 * deg, 10 * deg}, {11 * deg, 12 * deg}}
	level := []ReliefRecord{{8 * deg, 9 * deg}, {8 * deg, 9 * deg}, {8 * deg, 9 * deg}, {8 * deg, 9 * deg}, {8 * deg, 9 * deg}}
	tests := []struct {
		name        string
		records     []ReliefRecord
		geometry    length.Angle
		want        length.Angle
		fromRecords bool
		note        string
	}{
		{"within", five, 10 * deg, 11 * deg, true, "from 5 records"},
		{"at the end", five, 12 * deg, 13 * deg, true, "from 5 records"},
		{"below", five, 8*deg - 1, 8*deg - 1, false, "5 records, all of offsets for 8 to 12 deg: geometry used"},
		{"above", five, 12*deg + 1, 12*deg + 1, false, "geometry used"},
		{"too few", five[:4], 10 * deg, 10 * deg, false, "too few records (4, 5 are needed): geometry used"},
		{"all at one", level, 8 * deg, 8 * deg, false, "5 records, all of offsets for 8 to 8 deg: geometry used"},
	}
	for _, test := range tests {
		got, err := EstimateRelief(test.records, deg/5, test.geometry)
		if err != nil {
			t.Fatal(err)
		}
		half := length.Angle(0)
		if test.fromRecords {
			half = deg / 10
		}
		for _, v := range []struct{ got, want length.Angle }{
			{got.Relief, test.want}, {got.Lower, test.want - half}, {got.Upper, test.want + half},
		} {
			if d := v.got - v.want; d < -1 || d > 1 {
				t.Errorf("%s: got %v, want %v", test.name, v.got, v.want)
			}
		}
		if got.Records != len(test.records) || got.FromRecords != test.fromRecords || !strings.HasSuffix(got.Note, test.note) {
			t.Errorf("%s: got %+v, want note %q", test.name, got.Basis, test.note)
		}
	}
}

func TestEstimateRefuses(t *testing.T) {
	for _, test := range []struct {
		records   []StockRecord
		divisions int
		step      length.Length
	}{
		{nil, 0, 0}, {nil, 1, -1}, {[]StockRecord{{0, 1}}, 1, 0},
	} {
		if got, err := EstimateStock(test.records, test.divisions, test.step, 0); err == nil {
			t.Errorf("%+v: got %+v, want an error", test, got)
		}
	}
	if got, err := EstimateRelief(nil, -1, 0); err == nil {
		t.Errorf("a negative step gave %+v", got)
	}
}

// Records and the grind foretold are made by the same bench: 45 um a division, with normal scatter, read in steps.
// Without steps the interval is exact; with them it is wider than it need be.
func TestStockIntervalsCover(t *testing.T) {
	trials := 20_000
	if testing.Short() {
		trials = 4000
	}
	for _, test := range []struct {
		step    length.Length
		scatter float64
		least   float64
	}{
		{length.Picometre, 5, 0.95 - 3*math.Sqrt(0.05*0.95/float64(trials))},
		{5 * length.Micrometre, 5, 0.95},
		{10 * length.Micrometre, 1, 0.95},
	} {
		random := rand.New(rand.NewPCG(11, 12))
		grind := func(divisions int) StockRecord {
			um := 45*float64(divisions) + test.scatter*random.NormFloat64()
			steps := math.Round(um / test.step.Micrometres())
			return StockRecord{divisions, test.step * length.Length(steps)}
		}
		covered := 0
		for range trials {
			records := []StockRecord{grind(6)}
			for range 4 + random.IntN(8) {
				records = append(records, grind(1+random.IntN(6)))
			}
			further := grind(1 + random.IntN(6))
			got, err := EstimateStock(records, further.Divisions, test.step, 0)
			if err != nil || !got.FromRecords {
				t.Fatalf("%+v, %v", got, err)
			}
			if got.Lower <= further.Removed && further.Removed <= got.Upper {
				covered++
			}
		}
		share := float64(covered) / float64(trials)
		t.Logf("step %v, scatter %v um: %.2f %% covered", test.step, test.scatter, 100*share)
		if share < test.least {
			t.Errorf("step %v, scatter %v um: %.4f covered, want %.4f", test.step, test.scatter, share, test.least)
		}
	}
}

// A bench that gives 0.6 deg more than geometry, and nine tenths of what is asked above 10 deg.
func TestReliefIntervalsCover(t *testing.T) {
	trials := 20_000
	if testing.Short() {
		trials = 4000
	}
	for _, test := range []struct {
		step  length.Angle
		least float64
	}{
		{1, 0.95 - 3*math.Sqrt(0.05*0.95/float64(trials))},
		{length.Degree / 4, 0.95},
	} {
		random := rand.New(rand.NewPCG(13, 14))
		tool := func(deg float64) ReliefRecord {
			obtained := 10.6 + 0.9*(deg-10) + 0.3*random.NormFloat64()
			steps := math.Round(obtained / test.step.Degrees())
			return ReliefRecord{length.Angle(deg * float64(length.Degree)), test.step * length.Angle(steps)}
		}
		covered := 0
		for range trials {
			records := []ReliefRecord{tool(6), tool(14)}
			for range 3 + random.IntN(10) {
				records = append(records, tool(6+8*random.Float64()))
			}
			further := tool(6 + 8*random.Float64())
			got, err := EstimateRelief(records, test.step, further.Geometry)
			if err != nil || !got.FromRecords {
				t.Fatalf("%+v, %v", got, err)
			}
			if got.Lower <= further.Obtained && further.Obtained <= got.Upper {
				covered++
			}
		}
		share := float64(covered) / float64(trials)
		t.Logf("step %v: %.2f %% covered", test.step, 100*share)
		if share < test.least {
			t.Errorf("step %v: %.4f covered, want %.4f", test.step, share, test.least)
		}
	}
}
