package geometry

import (
	"math"
	"testing"

	"flutelog/inspect/length"
	"flutelog/inspect/published"
)

// A point of the cutter at the height of the tooth rest meets a wheel face that is plumb: the angle between the
// face and the tangent there, constructed from two points of the circle close together, is the relief.
func TestClearanceOffsetAgainstConstruction(t *testing.T) {
	for _, d := range diameters {
		for a := 2.0; a <= 25; a++ {
			offset, err := ClearanceOffset(d, degrees(a))
			if err != nil {
				t.Fatal(err)
			}
			R, below := d.Micrometres()/2, offset.Micrometres()
			const h = 1e-3 // um
			chord := (math.Sqrt(R*R-(below+h)*(below+h)) - math.Sqrt(R*R-(below-h)*(below-h))) / (2 * h)
			// An angle off by a nanometre at the radius.
			nearFloat(t, "relief constructed", math.Atan(-chord)*R, a*math.Pi/180*R, 0.001)
		}
	}
}

// The relief is the slope of the circle at the offset, from the ordinates at both sides of it.
func TestOffsetReliefAgainstConstruction(t *testing.T) {
	for _, d := range diameters {
		for part := 0.0; part <= 0.45; part += 0.05 {
			offset := length.Length(part * float64(d))
			got, err := OffsetRelief(d, offset)
			if err != nil {
				t.Fatal(err)
			}
			R, below := d.Micrometres()/2, offset.Micrometres()
			const h = 1e-3 // um
			slope := (math.Sqrt(R*R-(below-h)*(below-h)) - math.Sqrt(R*R-(below+h)*(below+h))) / (2 * h)
			nearFloat(t, "relief", got.Radians()*R, math.Atan(slope)*R, 0.001)
		}
	}
	for _, wrong := range []struct{ d, offset length.Length }{{0, 0}, {length.Inch, -1}, {length.Inch, length.Inch/2 + 1}} {
		if a, err := OffsetRelief(wrong.d, wrong.offset); err == nil {
			t.Errorf("offset %v at diameter %v gave %v", wrong.offset, wrong.d, a)
		}
	}
}

func TestClearanceOffsetRule(t *testing.T) {
	largest := 0.0
	for _, row := range table(t, "clearance_setting_rule.csv") {
		angle := published.Number(t, row["angle_deg"])
		offset, err := ClearanceOffset(in(t, length.In, row["diameter_in"])[0], degrees(angle))
		if err != nil {
			t.Fatal(err)
		}
		rule := in(t, length.In, row["offset_in"])[0]
		off := math.Abs(float64(offset-rule)) / float64(offset)
		largest = max(largest, off)
		nearFloat(t, "rule's relative deviation at "+row["angle_deg"]+" deg", off, 0, 0.0031)
	}
	t.Logf("the 0.0087 rule is within %.2f %% of (D/2) sin a", 100*largest)

	for _, row := range table(t, "clearance_rule_deviation.csv") {
		offset, err := ClearanceOffset(length.Inch, degrees(published.Number(t, row["angle_deg"])))
		if err != nil {
			t.Fatal(err)
		}
		near(t, row["angle_deg"]+" deg", offset, in(t, length.In, row["exact_offset_per_diameter"])[0], length.Inch/2_000_000)
	}
}

func TestOffsetSensitivity(t *testing.T) {
	for _, a := range []float64{2, 9, 25} {
		got, err := OffsetSensitivity(length.Inch/2, degrees(a), 10*length.Micrometre)
		if err != nil {
			t.Fatal(err)
		}
		// The angle whose sine is 10 um more, less the angle itself, differs in second order.
		R := (length.Inch / 4).Micrometres()
		want := math.Asin(math.Sin(a*math.Pi/180)+10/R) - a*math.Pi/180
		nearFloat(t, "change of relief", got.Radians(), want, 1e-3*want)
	}
}

func TestHelixTurn(t *testing.T) {
	turn, err := HelixTurn(in(t, length.In, "0.75")[0], length.Inch/2, 30*length.Degree)
	if err != nil {
		t.Fatal(err)
	}
	// By hand: 0.75 / 0.25 x 0.57735 = 1.73205 rad = 99.24 degrees.
	nearAngle(t, "phase", turn, degrees(99.24), degrees(0.005))
	back, err := HelixTurn(in(t, length.In, "0.75")[0], length.Inch/2, -30*length.Degree)
	if err != nil {
		t.Fatal(err)
	}
	if back != -turn {
		t.Errorf("mirrored hand: got %v, want %v", back, -turn)
	}
}

func TestSurfaceSpeed(t *testing.T) {
	for _, row := range table(t, "wheel_speed.csv") {
		v, err := SurfaceSpeed(in(t, length.In, row["wheel_diameter_in"])[0], published.Number(t, row["rpm"]))
		if err != nil {
			t.Fatal(err)
		}
		nearFloat(t, "ft/min", v.FeetPerMinute(), published.Number(t, row["surface_ft_per_min"]), 0.0006)
		nearFloat(t, "m/s", float64(v), published.Number(t, row["surface_m_per_s"]), 0.00006)
	}
}

func TestSetupRefuses(t *testing.T) {
	_, err := ClearanceOffset(0, 7*length.Degree)
	wantError(t, err, "clearance offset", "diameter")
	_, err = ClearanceOffset(length.Inch, 90*length.Degree)
	wantError(t, err, "relief is 90deg")
	_, err = OffsetSensitivity(length.Inch, 0, length.Micrometre)
	wantError(t, err, "relief is 0deg")
	_, err = HelixTurn(length.Inch, 0, 30*length.Degree)
	wantError(t, err, "diameter")
	_, err = HelixTurn(length.Inch, length.Inch, 90*length.Degree)
	wantError(t, err, "helix is 90deg")
	for _, rpm := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		_, err = SurfaceSpeed(length.Inch, rpm)
		wantError(t, err, "surface speed")
	}
	_, err = SurfaceSpeed(0, 3450)
	wantError(t, err, "surface speed")
}

// A rest set for the middle of a taper of 3 degrees a side, .25 in at the end and 1 in along: .25 + 2 tan 3 = .354816 at the
// shank, .302408 in the middle. For 10 degrees the rest stands .151204 sin 10 = .026256 down; .026256/.125 is sin 12.1253
// and .026256/.177408 sin 8.5110 (by hand).
func TestRestOfTaper(t *testing.T) {
	rest, err := RestOfTaper(length.Inch/4, length.Inch, 3*length.Degree, 10*length.Degree)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "rest", rest.Rest, in(t, length.In, "0.026256")[0], length.Inch/1_000_000)
	nearAngle(t, "at the end", rest.End, degrees(12.1253), degrees(0.0005))
	nearAngle(t, "at the shank", rest.Shank, degrees(8.5110), degrees(0.0005))
	_, err = RestOfTaper(length.Inch/4, 0, 0, 10*length.Degree)
	wantError(t, err, "rest of a taper", "along")
	_, err = RestOfTaper(length.Inch/4, length.Inch, -10*length.Degree, 10*length.Degree)
	wantError(t, err, "rest of a taper")
}
