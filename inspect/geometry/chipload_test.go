package geometry

import (
	"math"
	"slices"
	"testing"

	"flutelog/inspect/length"
)

func TestChipLoadWorkedValue(t *testing.T) {
	// Worked by cutting in turn: feed 0.001 per tooth.
	c, err := ChipLoad(length.Thou, in(t, length.In, "0 0.0012 -0.0009 0.0004"), nil)
	if err != nil {
		t.Fatal(err)
	}
	if want := in(t, length.In, "0.0006 0.0022 0 0.0012"); !slices.Equal(c.Chips, want) {
		t.Errorf("chips: got %v, want %v", c.Chips, want)
	}
	if !slices.Equal(c.Idle, []int{3}) {
		t.Errorf("idle: got %v, want flute 3", c.Idle)
	}
	nearFloat(t, "share of flute 2", c.Shares[1], 0.55, 1e-15)
}

// cutInTurn lets the teeth pass one after the other over stock that moves towards them, for many turns, and
// returns what each took in the last.
func cutInTurn(feed []float64, heights []float64) []float64 {
	surface, moved := 0.0, 0.0
	took := make([]float64, len(heights))
	for range 60 {
		for k, r := range heights {
			moved += feed[k]
			// In the stock's own coordinates the tooth's tip now lies this deep.
			tip := moved + r
			took[k] = max(0, tip-surface)
			surface = max(surface, tip)
		}
	}
	return took
}

func TestChipLoadAgainstCuttingInTurn(t *testing.T) {
	r := seeded(5)
	for trial := range 500 {
		flutes := 2 + trial%11
		var angles []length.Angle
		feed := slices.Repeat([]float64{20}, flutes)
		if trial%2 == 1 {
			angles = unevenPitch(flutes, func() float64 { return between(r, -9, 9) })
			for i := range angles {
				gap := turned(angles[i] - angles[(i+flutes-1)%flutes]).Degrees()
				feed[i] = 20 * float64(flutes) * gap / 360
			}
		}
		heights := make([]length.Length, flutes)
		for i := range heights {
			heights[i] = micrometres(between(r, -30, 30))
		}
		c, err := ChipLoad(20*length.Micrometre, heights, angles)
		if err != nil {
			t.Fatal(err)
		}
		sum := length.Length(0)
		for k, want := range cutInTurn(feed, length.Micrometres(heights)) {
			near(t, "chip", c.Chips[k], micrometres(want), 10*length.Picometre)
			sum += c.Chips[k]
		}
		near(t, "sum of chips", sum, length.Length(flutes)*20*length.Micrometre, 12*length.Picometre)
		raised, err := ChipLoad(20*length.Micrometre, less(heights, -length.Millimetre), angles)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(raised.Chips, c.Chips) {
			t.Errorf("all raised: got %v, want %v", raised.Chips, c.Chips)
		}
	}
}

func TestChipLoadEqualPitchIsExact(t *testing.T) {
	r := seeded(6)
	for range 300 {
		heights := make([]length.Length, 2+r.IntN(11))
		for i := range heights {
			heights[i] = length.Length(r.IntN(int(length.Tenth)))
		}
		c, err := ChipLoad(length.Tenth, heights, nil)
		if err != nil {
			t.Fatal(err)
		}
		sum := length.Length(0)
		for _, chip := range c.Chips {
			sum += chip
		}
		if want := length.Tenth * length.Length(len(heights)); sum != want {
			t.Fatalf("chips of %v sum to %v, want %v", heights, sum, want)
		}
		shares := 0.0
		for _, s := range c.Shares {
			shares += s
		}
		if math.Abs(shares-1) > 1e-12 {
			t.Fatalf("shares sum to %v", shares)
		}
	}
}

func TestChipLoadRefuses(t *testing.T) {
	heights := in(t, length.Um, "0 1 2")
	_, err := ChipLoad(0, heights, nil)
	wantError(t, err, "chip load", "feed per tooth")
	_, err = ChipLoad(length.Tenth, nil, nil)
	wantError(t, err, "0 flutes")
	_, err = ChipLoad(length.Tenth, heights, []length.Angle{0, 240 * length.Degree, 120 * length.Degree})
	wantError(t, err, "flute 3", "order in which they cut")
}

// One tooth takes the whole feed of the turn, however high it stands.
func TestChipLoadOfOneFlute(t *testing.T) {
	c, err := ChipLoad(length.Tenth, in(t, length.Um, "7"), nil)
	if err != nil || len(c.Chips) != 1 || c.Chips[0] != length.Tenth || c.Shares[0] != 1 {
		t.Errorf("got %+v, %v; want the whole feed", c, err)
	}
}
