package geometry

import (
	"fmt"
	"math"
	"testing"

	"flutelog/inspect/length"
)

func TestDiameterOverMaster(t *testing.T) {
	d, err := DiameterOverMaster(length.Inch/2, in(t, length.In, "0.0010")[0], in(t, length.In, "0.0008 0.0003 0.0005 0.0004"))
	if err != nil {
		t.Fatal(err)
	}
	// By hand: highest 0.0002 under the master, mean 0.0005 under.
	near(t, "max", d.Max, in(t, length.In, "0.4996")[0], 0)
	near(t, "mean", d.Mean, in(t, length.In, "0.4990")[0], 0)
	near(t, "radius offset", d.RadiusOffset, in(t, length.In, "0.2498")[0], 0)
	if !d.HasMax {
		t.Error("no maximum about an axis")
	}
}

// veeTop lets a ring of teeth down into a vee until both sides are met, by halving, and returns the height of the
// highest point on the middle line: a tooth there is read at its tip.
func veeTop(radii []float64, top int, vee float64) float64 {
	step := 2 * math.Pi / float64(len(radii))
	tooth := func(k int) (x, y float64) {
		angle := float64(k-top) * step // from straight up
		return radii[k] * math.Sin(angle), radii[k] * math.Cos(angle)
	}
	// The ring stands free at (cx, cy) when no tooth is inside a side: y >= |x| / tan(v/2).
	sunk := func(cx, cy, side float64) float64 {
		deepest := math.Inf(-1)
		for k := range radii {
			x, y := tooth(k)
			deepest = max(deepest, side*(cx+x)/math.Tan(vee/2)-(cy+y))
		}
		return deepest
	}
	halve := func(lo, hi float64, tooLow func(float64) bool) float64 {
		for range 100 {
			if mid := (lo + hi) / 2; tooLow(mid) {
				lo = mid
			} else {
				hi = mid
			}
		}
		return hi
	}
	cy := 0.0
	reach := 10 * radii[0]
	height := func(cx float64) float64 {
		return halve(-reach, reach, func(y float64) bool { return max(sunk(cx, y, 1), sunk(cx, y, -1)) > 0 })
	}
	// The ring slides sideways until both sides carry.
	cx := halve(-radii[0], radii[0], func(x float64) bool {
		y := height(x)
		return sunk(x, y, -1) > sunk(x, y, 1)
	})
	cy = height(cx)
	_, y := tooth(top)
	return cy + y
}

func TestDiameterInVeeAgainstConstruction(t *testing.T) {
	for _, tt := range []struct {
		flutes int
		vee    float64
	}{{3, 60}, {5, 108}, {7, 180 - 360.0/7}, {9, 60}, {9, 140}, {8, 90}, {6, 60}} {
		t.Run(fmt.Sprintf("%d in %.0f", tt.flutes, tt.vee), func(t *testing.T) {
			ring := func(radius float64) []float64 {
				radii := make([]float64, tt.flutes)
				for i := range radii {
					radii[i] = radius
				}
				return radii
			}
			v := tt.vee * math.Pi / 180
			master := 6350 * (1 + 1/math.Sin(v/2)) // a round pin on two sides, by hand
			heights := make([]length.Length, tt.flutes)
			for k := range heights {
				heights[k] = micrometres(veeTop(ring(6300), k, v))
			}
			d, err := DiameterInVee(length.Inch/2, micrometres(master), heights, degrees(tt.vee))
			if err != nil {
				t.Fatal(err)
			}
			near(t, "mean", d.Mean, 12600*length.Micrometre, length.Nanometre)
			if alike := tt.vee == 60; d.HasMax == alike {
				t.Errorf("has a maximum: %v, want %v", d.HasMax, !alike)
			}
		})
	}
}

// One tooth of three is 20 um high: in a 60-degree vee every position reads alike, and only the mean is true.
func TestThreeFlutesInVeeReadAlike(t *testing.T) {
	radii := []float64{6350, 6370, 6350}
	heights := make([]length.Length, 3)
	for k := range heights {
		heights[k] = micrometres(veeTop(radii, k, math.Pi/3))
	}
	if TIR(heights) > length.Micrometre/10 {
		t.Errorf("readings %v differ; the construction says a tooth error shows", heights)
	}
	d, err := DiameterInVee(length.Inch/2, micrometres(3*6350), heights, 60*length.Degree)
	if err != nil {
		t.Fatal(err)
	}
	if d.HasMax {
		t.Error("got a maximum")
	}
	near(t, "mean", d.Mean, micrometres(2*(6350+20.0/3)), length.Micrometre/10)
	near(t, "radius offset", d.RadiusOffset, d.Mean/2, 0)
}

func TestDiameterRefuses(t *testing.T) {
	three, four := in(t, length.Um, "0 1 2"), in(t, length.Um, "0 1 2 3")
	_, err := DiameterInVee(length.Inch/2, 0, four, 60*length.Degree)
	wantError(t, err, "4 flutes do not seat", "60deg")
	_, err = DiameterInVee(length.Inch/2, 0, three, 108*length.Degree)
	wantError(t, err, "3 flutes do not seat")
	_, err = DiameterInVee(length.Inch/2, 0, nil, 60*length.Degree)
	wantError(t, err, "0 flutes")
	_, err = DiameterInVee(length.Inch/2, 0, three, 180*length.Degree)
	wantError(t, err, "vee of 180deg")
	_, err = DiameterOverMaster(0, 0, three)
	wantError(t, err, "master")
	_, err = DiameterOverMaster(length.Inch/2, length.Inch, three)
	wantError(t, err, "farther under the master")
	_, err = DiameterOverMaster(length.Inch/2, 0, nil)
	wantError(t, err, "0 flutes")
	_, err = DiameterInVee(length.Inch/2, 0, three[:1], 60*length.Degree)
	wantError(t, err, "1 flutes do not seat")
}

// One flute turned under the indicator: twice its radius, the pin's radius and what it stands over it.
func TestDiameterOfOneFlute(t *testing.T) {
	d, err := DiameterOverMaster(length.Inch/2, 0, in(t, length.In, "-0.001"))
	if err != nil || d.Max != in(t, length.In, "0.498")[0] {
		t.Errorf("got %v, %v; want 0.498 in", d.Max, err)
	}
}

func TestFittingVee(t *testing.T) {
	for flutes, want := range map[int]length.Angle{3: 60 * length.Degree, 5: 108 * length.Degree, 9: 140 * length.Degree} {
		if vee, ok := FittingVee(flutes); !ok || vee != want {
			t.Errorf("%d flutes: got %v, %v; want %v", flutes, vee, ok, want)
		}
	}
	for _, flutes := range []int{1, 2, 4, 6} {
		if vee, ok := FittingVee(flutes); ok {
			t.Errorf("%d flutes: got a vee of %v", flutes, vee)
		}
	}
}

func TestLengthOverMaster(t *testing.T) {
	got := LengthOverMaster(in(t, length.In, "3")[0], in(t, length.In, "0.002")[0], in(t, length.In, "-0.001 0.0005"))
	near(t, "length", got, in(t, length.In, "2.9985")[0], 0)
}
