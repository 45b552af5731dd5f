package geometry

import (
	"math/big"
	"testing"

	"flutelog/inspect/length"
)

func TestJudgeLands(t *testing.T) {
	lands, err := JudgeLands(in(t, length.In, "0.012 0.029 0.024"), in(t, length.In, "0.048 0.050 0.048"))
	if err != nil {
		t.Fatal(err)
	}
	// By hand: 0.25, 0.58, 0.50.
	for i, want := range []float64{0.25, 0.58, 0.50} {
		nearFloat(t, "ratio", lands.Ratios[i].Value(), want, 1e-15)
	}
	nearFloat(t, "mean", lands.Mean, 1.33/3, 1e-15)
	nearFloat(t, "spread", lands.Spread, 0.33, 1e-15)
	if lands.WorstFlute != 2 || lands.Worst() != (Ratio{29 * length.Thou, 50 * length.Thou}) {
		t.Errorf("got worst flute %d, %v; want flute 2", lands.WorstFlute, lands.Worst())
	}
}

// Half of every land of 1 to 4000 um, and of 0.0002 to 0.2 in, is not over the half; a nanometre more is.
func TestHalfIsExact(t *testing.T) {
	for _, unit := range []length.Length{length.Micrometre, length.Tenth} {
		for n := length.Length(1); n <= 2000; n++ {
			half := Ratio{n * unit, 2 * n * unit}
			more := Ratio{n*unit + length.Nanometre, 2 * n * unit}
			if half.Compare(Ratio{1, 2}) != 0 || more.Compare(Ratio{1, 2}) != 1 {
				t.Fatalf("half %v of %v compares %d with the half, and a nanometre more %d", half.Primary, half.Land, half.Compare(Ratio{1, 2}), more.Compare(Ratio{1, 2}))
			}
		}
	}
}

// Against exact fractions, on widths whose products overflow 64 bits.
func TestRatioCompare(t *testing.T) {
	r := seeded(4)
	for range 2000 {
		land := 10*length.Millimetre + length.Length(r.IntN(3))
		a := Ratio{land/2 + length.Length(r.IntN(3)), land}
		b := Ratio{land/2 + length.Length(r.IntN(3)), land + length.Length(r.IntN(3))}
		want := big.NewRat(int64(a.Primary), int64(a.Land)).Cmp(big.NewRat(int64(b.Primary), int64(b.Land)))
		if got := a.Compare(b); got != want {
			t.Fatalf("%v against %v: got %d, want %d", a, b, got, want)
		}
	}
}

// A half seen along the radius reads cos a1 / (cos a1 + cos a2): projected here facet by facet, by the x of two
// points on each.
func TestSquareToFacets(t *testing.T) {
	for _, tt := range []struct {
		a1, a2 length.Angle
		shows  float64 // three decimals, worked by hand
	}{
		{8 * length.Degree, 16 * length.Degree, 0.507},
		{10 * length.Degree, 25 * length.Degree, 0.521},
	} {
		_, corner := flatProfile(0, tt.a1.Radians())(400)
		_, far := twoFacets(0, 400, tt.a1.Radians(), tt.a2.Radians())(800)
		seen := Ratio{micrometres(corner), micrometres(far)}
		nearFloat(t, "half as seen", seen.Value(), tt.shows, 0.0005)
		got, err := SquareToFacets(seen, tt.a1, tt.a2)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "primary", got.Primary, 400*length.Micrometre, length.Nanometre)
		near(t, "land", got.Land, 800*length.Micrometre, length.Nanometre)
	}
	_, err := SquareToFacets(Ratio{2, 1}, 8*length.Degree, 16*length.Degree)
	wantError(t, err, "along the radius", "wider")
	_, err = SquareToFacets(Ratio{1, 2}, 8*length.Degree, 90*length.Degree)
	wantError(t, err, "along the radius", "90deg")
}

func TestJudgeLandsRefuses(t *testing.T) {
	for _, tt := range []struct {
		name, primary, land string
		say                 []string
	}{
		{"primary wider", "0.1 0.3", "0.4 0.29", []string{"flute 2", "wider", "0.3mm", "0.29mm"}},
		{"primary zero", "0 0.3", "0.4 0.5", []string{"flute 1", "primary"}},
		{"land negative", "0.1 0.3 0.1", "0.4 0.5 -0.4", []string{"flute 3", "land"}},
		{"counts differ", "0.1", "0.4 0.5", []string{"1 primary", "2 land"}},
		{"none", "", "", []string{"0 flutes"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, err := JudgeLands(in(t, length.Mm, tt.primary), in(t, length.Mm, tt.land))
			wantError(t, err, tt.say...)
		})
	}
	// The whole land taken by the primary is what the last regrind before a secondary can leave.
	if _, err := JudgeLands(in(t, length.Mm, "0.4"), in(t, length.Mm, "0.4")); err != nil {
		t.Error(err)
	}
}
