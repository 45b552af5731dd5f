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
		{"five records", five, 3, StockEstimate{150 * um, 149 * um, 151 * um, Footing{5, true, "from 5 records"}}},
		{"the most recorded", five, 4, StockEstimate{200 * um, 199 * um, 201 * um, Footing{5, true, "from 5 records"}}},
		{"more than recorded", five, 5, StockEstimate{70 * um, 70 * um, 70 * um,
			Footing{5, false, "5 records, all of 1 to 4 divisions: geometry used"}}},
		{"four records", five[:4], 3, StockEstimate{70 * um, 70 * um, 70 * um,
			Footing{4, false, "too few records (4, 5 are needed): geometry used"}}},
		{"no records", nil, 3, StockEstimate{70 * um, 70 * um, 70 * um,
			Footing{0, false, "too few records (0, 5 are needed): geometry used"}}},
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
			t.Errorf("%s: got %+v, want note %q", test.name, got.Footing, test.note)
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

// Records and the grind foretold are made by the same bench: 45 um a division, the first of which loses 12, with normal scatter
// that grows with the divisions, read in steps.
// Without steps the interval is exact; with them it is wider than it need be.
func TestStockIntervalsCover(t *testing.T) {
	trials := 20_000
	if testing.Short() {
		trials = 1000
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
			um := 45*float64(divisions) - 12 + test.scatter*math.Sqrt(float64(divisions))*random.NormFloat64()
			steps := math.Round(um / test.step.Micrometres())
			return StockRecord{divisions, test.step * length.Length(steps)}
		}
		covered := 0
		for range trials {
			records := []StockRecord{grind(1), grind(6)}
			for range 3 + random.IntN(8) {
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
		trials = 1000
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

// A lost first division is an intercept: 0, 50, 100 and 150 um of 1 to 4 divisions, by hand.
func TestStockWithLostDivision(t *testing.T) {
	const um = length.Micrometre
	records := []StockRecord{{1, 0}, {2, 50 * um}, {3, 100 * um}, {4, 150 * um}, {2, 50 * um}}
	got, err := EstimateStock(records, 3, 0, 0)
	if err != nil || (got.Removed-100*um).Abs() > 1 {
		t.Errorf("three divisions remove %+v, %v; want 100 um", got, err)
	}
	// All of two divisions tell of two, by their mean: 50 +- t(0.975, 4) sd sqrt(1.2), sd = sqrt(2.5) um, t = 2.776445.
	same := []StockRecord{{2, 48 * um}, {2, 49 * um}, {2, 50 * um}, {2, 51 * um}, {2, 52 * um}}
	got, err = EstimateStock(same, 2, 0, 0)
	half := 2.776445 * math.Sqrt(2.5*1.2)
	if err != nil || got.Removed != 50*um || math.Abs((got.Upper-got.Removed).Micrometres()-half) > 1e-5 {
		t.Errorf("two divisions remove %+v, %v; want 50 um +- %v", got, err, half)
	}
	if got, err = EstimateStock(same, 3, 0, 70*um); err != nil || got.FromRecords {
		t.Errorf("three divisions: %+v, %v; want geometry", got, err)
	}
}

// Five losses of 100 um on average with a standard deviation of 10: of 1000 um left ten fit on average, fewer for sure.
// By hand: k 100 + 2.776445 x 10 sqrt(k + k^2/5) is 996 at k = 8 and 1122 at 9.
func TestEstimateLife(t *testing.T) {
	const um = length.Micrometre
	d := length.Length(math.Round(10 * math.Sqrt(4.0/2) * float64(um))) // two of five off by this: sd 10
	losses := []length.Length{100*um - d, 100*um + d, 100 * um, 100 * um, 100 * um}
	got, err := EstimateLife(losses, 13*length.Millimetre, 12*length.Millimetre, 100*um)
	if err != nil || got.Regrinds != 10 || got.Least != 8 || got.Most < 11 || !got.FromRecords {
		t.Errorf("got %+v, %v", got, err)
	}
	got, err = EstimateLife(nil, 13*length.Millimetre, 12*length.Millimetre, 300*um)
	if err != nil || got.Regrinds != 3 || got.Least != 3 || got.FromRecords {
		t.Errorf("by geometry: %+v, %v", got, err)
	}
	if _, err := EstimateLife(nil, 11*length.Millimetre, 12*length.Millimetre, 300*um); err == nil {
		t.Error("a tool that is too small already has a life left")
	}
}
