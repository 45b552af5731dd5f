package geometry

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"flutelog/inspect/length"
	"flutelog/inspect/published"
)

func TestFitRunoutPublishedCases(t *testing.T) {
	for _, row := range table(t, "first_harmonic.csv") {
		t.Run(row["case"], func(t *testing.T) {
			run, err := FitRunout(in(t, length.Tenths, row["heights"]), nil)
			if err != nil {
				t.Fatal(err)
			}
			tenths := func(column string) length.Length { return micrometres(2.54 * published.Number(t, row[column])) } // printed to 2.54 pm
			near(t, "TIR", run.TIR, tenths("indicator_movement"), 0)
			near(t, "mean", run.Mean, tenths("mean"), length.Picometre)
			near(t, "eccentricity", run.Eccentricity, tenths("eccentricity"), 2*length.Picometre)
			near(t, "concentricity", run.Concentricity, 2*tenths("eccentricity"), 4*length.Picometre)
			if want := row["direction_deg"]; run.HasDirection != (want != "") {
				t.Errorf("has a direction: %v, want %q", run.HasDirection, want)
			} else if want != "" {
				nearAngle(t, "direction", run.Direction, degrees(published.Number(t, want)), degrees(0.00005))
			}
			want := in(t, length.Tenths, row["residuals"])
			if len(want) != len(run.Residuals) {
				t.Fatalf("got %d residuals, want %d", len(run.Residuals), len(want))
			}
			for i := range want {
				near(t, fmt.Sprintf("residual %d", i+1), run.Residuals[i], want[i], length.Picometre)
			}
			near(t, "residual TIR", run.ResidualTIR, TIR(want), 2*length.Picometre)
		})
	}
}

// Tools made by moving a circle of teeth off the axis: the fit must find the shift again, whatever the pitch.
func TestFitRunoutFindsAShiftedCircle(t *testing.T) {
	r := seeded(1)
	for flutes := 3; flutes <= maxFlutes; flutes++ {
		angles := unevenPitch(flutes, func() float64 { return between(r, -8, 8) })
		e, to := between(r, 1, 200), between(r, 0, 360)
		heights := make([]length.Length, flutes)
		for i, a := range angles {
			heights[i] = micrometres(50 + e*math.Cos(a.Radians()-to*math.Pi/180))
		}
		run, err := FitRunout(heights, angles)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "eccentricity", run.Eccentricity, micrometres(e), 10*length.Picometre)
		near(t, "mean", run.Mean, 50*length.Micrometre, 10*length.Picometre)
		nearAngle(t, "direction", run.Direction, degrees(to), degrees(0.001))
		near(t, "residual TIR", run.ResidualTIR, 0, 10*length.Picometre)
	}
}

// unevenPitch returns equal pitch with a shift of each flute, in degrees.
func unevenPitch(flutes int, shift func() float64) []length.Angle {
	angles := make([]length.Angle, flutes)
	for i := range angles {
		angles[i] = degrees(360*float64(i)/float64(flutes) + shift())
	}
	return angles
}

// The residuals of a least-squares fit are square to every column of its model (definition of least squares).
func TestFitRunoutLeavesNothingToFit(t *testing.T) {
	r := seeded(2)
	for range 200 {
		flutes := 4 + r.IntN(9)
		angles := unevenPitch(flutes, func() float64 { return between(r, -9, 9) })
		heights := make([]length.Length, flutes)
		for i := range heights {
			heights[i] = micrometres(between(r, -30, 30))
		}
		run, err := FitRunout(heights, angles)
		if err != nil {
			t.Fatal(err)
		}
		var sum, cosines, sines float64
		for i, l := range run.Residuals {
			sum += l.Micrometres()
			cosines += l.Micrometres() * math.Cos(angles[i].Radians())
			sines += l.Micrometres() * math.Sin(angles[i].Radians())
		}
		nearFloat(t, "sum of residuals", sum, 0, 1e-5)
		nearFloat(t, "cosine part left", cosines, 0, 1e-5)
		nearFloat(t, "sine part left", sines, 0, 1e-5)
	}
}

func TestFitRunoutTwoFlutes(t *testing.T) {
	// Teeth at 0 and 170 degrees on a circle moved 10 um towards 85 - 90 degrees, along the line through both
	// edges: each edge moves by 10 cos(5 deg) um.
	move := 10 * math.Cos(5*math.Pi/180)
	run, err := FitRunout([]length.Length{micrometres(move), micrometres(-move)}, []length.Angle{0, degrees(170)})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "eccentricity", run.Eccentricity, 10*length.Micrometre, length.Picometre)
	nearAngle(t, "direction", run.Direction, degrees(355), degrees(0.000001))
	if !run.Partial || run.ResidualDF != 0 {
		t.Errorf("partial %v, residual df %d; want true, 0", run.Partial, run.ResidualDF)
	}
}

// Equal heights, and any pattern without a first harmonic, have no eccentricity and so no direction, however
// high they stand; 7 and 11 flutes have angles no binary fraction holds.
func TestFitRunoutNoDirectionWithoutEccentricity(t *testing.T) {
	for flutes := 2; flutes <= maxFlutes; flutes++ {
		for _, height := range []length.Length{0, length.Tenth, -length.Inch / 3, 100 * length.Millimetre} {
			run, err := FitRunout(slices.Repeat([]length.Length{height}, flutes), nil)
			if err != nil {
				t.Fatal(err)
			}
			if run.HasDirection || run.Eccentricity != 0 || run.Concentricity != 0 || run.ResidualTIR != 0 || run.Mean != height {
				t.Errorf("%d flutes all at %v: got %+v", flutes, height, run)
			}
		}
	}
	alternate := in(t, length.Mm, "0.1 0.3 0.1 0.3 0.1 0.3 0.1 0.3 0.1 0.3")
	run, err := FitRunout(alternate, nil)
	if err != nil || run.HasDirection || run.Eccentricity != 0 {
		t.Errorf("alternate flutes: got %+v, %v; want no direction", run, err)
	}
}

func TestFitRunoutProperties(t *testing.T) {
	r := seeded(3)
	for range 300 {
		flutes := 3 + r.IntN(10)
		heights := make([]length.Length, flutes)
		for i := range heights {
			heights[i] = length.Length(r.IntN(400)) * length.Micrometre / 10
		}
		base, err := FitRunout(heights, nil)
		if err != nil {
			t.Fatal(err)
		}

		by := 1 + r.IntN(flutes-1)
		renumbered := append(slices.Clone(heights[by:]), heights[:by]...)
		got := mustFit(t, renumbered, nil)
		sameSize(t, "renumbered", got, base)
		if base.HasDirection {
			nearAngle(t, "renumbered direction", got.Direction, base.Direction-EqualAngles(flutes)[by], directionNoise(base))
		}

		angle := degrees(between(r, 0, 360))
		rotated := EqualAngles(flutes)
		for i := range rotated {
			rotated[i] += angle
		}
		got = mustFit(t, heights, rotated)
		sameSize(t, "rotated", got, base)
		if base.HasDirection {
			nearAngle(t, "rotated direction", got.Direction, base.Direction+angle, directionNoise(base))
		}

		got = mustFit(t, less(heights, -37*length.Millimetre), nil)
		sameSize(t, "all raised", got, base)
		near(t, "mean of all raised", got.Mean, base.Mean+37*length.Millimetre, length.Picometre)

		mirrored := slices.Clone(heights)
		slices.Reverse(mirrored[1:])
		got = mustFit(t, mirrored, nil)
		sameSize(t, "mirrored", got, base)
		if base.HasDirection {
			nearAngle(t, "mirrored direction", got.Direction, -base.Direction, directionNoise(base))
		}
	}
}

func mustFit(t *testing.T, heights []length.Length, angles []length.Angle) Runout {
	t.Helper()
	run, err := FitRunout(heights, angles)
	if err != nil {
		t.Fatal(err)
	}
	return run
}

func sameSize(t *testing.T, what string, got, want Runout) {
	t.Helper()
	near(t, what+" TIR", got.TIR, want.TIR, 0)
	near(t, what+" eccentricity", got.Eccentricity, want.Eccentricity, length.Picometre)
	near(t, what+" residual TIR", got.ResidualTIR, want.ResidualTIR, 2*length.Picometre)
}

// directionNoise allows the direction a picometre of the eccentricity.
func directionNoise(run Runout) length.Angle {
	return degrees(180/math.Pi*float64(length.Picometre)/float64(run.Eccentricity) + 1e-8)
}

// Three teeth, one high: the fit gives 4/3 of the TIR (worked by hand: a = 2h/3, so 2e = 4h/3).
func TestFitRunoutThreeFlutesReachFourThirds(t *testing.T) {
	run := mustFit(t, in(t, length.Um, "0 9 0"), nil)
	near(t, "concentricity", run.Concentricity, 12*length.Micrometre, length.Picometre)
	near(t, "residual TIR", run.ResidualTIR, 0, 0)
}

func TestFitRunoutRefuses(t *testing.T) {
	for _, tt := range []struct {
		name    string
		heights string
		angles  []length.Angle
		say     []string
	}{
		{"one flute", "0", nil, []string{"one flute"}},
		{"thirteen flutes", strings.Repeat("0 ", 13), nil, []string{"13 flutes"}},
		{"an angle missing", "0 1 2", []length.Angle{0, degrees(120)}, []string{"2 angles for 3 flutes"}},
		{"two flutes at one place", "0 1 2", []length.Angle{0, degrees(120), degrees(-240)}, []string{"flute 3", "flute 2"}},
		{"across a full turn", "0 1 2", []length.Angle{0, degrees(120), degrees(357)}, []string{"flute 3", "flute 1"}},
		{"radians", "0 1 2 3", []length.Angle{0, degrees(1.5708), degrees(3.1416), degrees(4.7124)}, []string{"flute 2", "degrees"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, err := FitRunout(in(t, length.Um, tt.heights), tt.angles)
			wantError(t, err, tt.say...)
		})
	}
}
