package length

import (
	"encoding/json"
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"strings"
	"testing"
)

func TestParse(t *testing.T) {
	tests := []struct {
		in   string
		def  Unit
		want Length
	}{
		{"0.0005in", None, 12_700_000}, // 0.0005 x 25.4 mm = 12.7 um
		{"12.7um", None, 12_700_000},
		{"0.0127 mm", None, 12_700_000},
		{"0.5thou", None, 12_700_000},
		{"5tenths", None, 12_700_000},
		{"-3tenths", In, -7_620_000},
		{"+.5", In, 12_700_000_000},
		{"0.00000001in", None, 254}, // eight inch decimals are whole picometres
		{"0.000000001mm", None, 1},
		{"1.", Mm, 1_000_000_000},
		{"0.5000000000000000000000in", None, 12_700_000_000},
		{"0", In, 0},
		{"-0", In, 0},
		{"1000000mm", None, 1_000_000_000_000_000},
	}
	for _, tt := range tests {
		t.Run(tt.in, func(t *testing.T) {
			got, err := Parse(tt.in, tt.def)
			if err != nil || got != tt.want {
				t.Errorf("got %d, %v, want %d", got, err, tt.want)
			}
		})
	}
}

func TestParseRefuses(t *testing.T) {
	tests := []struct {
		in  string
		def Unit
		why string
	}{
		{"", In, "nothing was typed"},
		{"-", In, "a number is asked"},
		{".", In, "a number is asked"},
		{"in", None, "a number is asked"},
		{"NaN", In, "a number is asked"},
		{"Inf", In, "a number is asked"},
		{"0.5", None, "no unit"},
		{"0,01", In, "a comma in inches: 0.01 in?"},
		{"1e-3in", None, "exponents"},
		{"1.2.3", In, "more than one decimal point"},
		{"0.1 0.2", In, "more than one number"},
		{"0.1in 0.2in", In, "more than one number"},
		{"1-2", In, "more than one number"},
		{"--1", In, "two minus signs"},
		{"0.0000000001mm", None, "finer than a picometre"},
		{"0.000000001in", None, "finer than a picometre"},
		{"1000000.000000001mm", None, "too large"},
		{"99999999999999999999in", None, "too large"},
		{strings.Repeat("9", 100), In, "too large"},
		{"3tenths", Mm, "tenths are of a thou, an inch word"},
		{"3tenths", Um, "tenths are of a thou, an inch word"},
		{"3ft", In, "no unit known here"},
	}
	for _, tt := range tests {
		t.Run(tt.in, func(t *testing.T) {
			got, err := Parse(tt.in, tt.def)
			if err == nil || !strings.Contains(err.Error(), tt.why) {
				t.Errorf("got %d, %v, want an error with %q", got, err, tt.why)
			}
		})
	}
}

func TestFormat(t *testing.T) {
	tests := []struct {
		l        Length
		u        Unit
		decimals int
		want     string
	}{
		{12_700_000, In, 5, "0.00050"},
		{12_700_000, Mm, 4, "0.0127"},
		{12_700_000, Um, 1, "12.7"},
		{12_700_000, Thous, 2, "0.50"},
		{-12_700_000, Tenths, 1, "-5.0"},
		{127_000, In, 5, "0.00001"},  // exactly half of 0.00001 in: away from zero
		{126_999, In, 5, "0.00000"},  // a picometre less
		{-126_999, In, 5, "0.00000"}, // no minus zero
		{1_000_000_000, Mm, 0, "1"},
	}
	for _, tt := range tests {
		if got := tt.l.Format(tt.u, tt.decimals); got != tt.want {
			t.Errorf("%d in %s: got %s, want %s", tt.l, tt.u, got, tt.want)
		}
	}
}

func TestNumberJSON(t *testing.T) {
	got, err := json.Marshal(map[string]any{"tir": Length(12_700_000).Number(In)})
	if want := `{"tir":0.000500000}`; err != nil || string(got) != want {
		t.Errorf("got %s, %v, want %s", got, err, want)
	}
}

func TestAngle(t *testing.T) {
	for in, want := range map[string]Angle{"9": 9 * Degree, "9.5deg": 9_500_000_000, "-0.000000001": -1, " 30 deg ": 30 * Degree} {
		if got, err := ParseAngle(in); err != nil || got != want {
			t.Errorf("%q: got %d, %v, want %d", in, got, err, want)
		}
	}
	for _, in := range []string{"", "deg", "9,5", "9e1", "0.0000000001", "9 10", "9rad", "1e400"} {
		if got, err := ParseAngle(in); err == nil {
			t.Errorf("%q: got %d, want an error", in, got)
		}
	}
	if got, err := FromRadians(math.Pi / 6); err != nil || got != 30*Degree {
		t.Errorf("pi/6: got %v, %v, want 30deg", got, err)
	}
}

func TestFromFloatRefuses(t *testing.T) {
	for _, f := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e30} {
		if got, err := FromMicrometres(f); err == nil {
			t.Errorf("%v um: got %d, want an error", f, got)
		}
		if got, err := FromRadians(f); err == nil {
			t.Errorf("%v rad: got %d, want an error", f, got)
		}
	}
}

// Whatever parses prints back to itself: the exact text form is canonical.
func FuzzParse(f *testing.F) {
	for _, s := range []string{"0.0005in", "12.7um", "-3tenths", "0,1", "1e3", "0.1 0.2", "1000000mm", "−1mm"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		l, err := Parse(s, In)
		if err != nil {
			return
		}
		again, err := Parse(l.String(), None)
		if err != nil || again != l {
			t.Errorf("%q: %d printed as %s and read back as %d, %v", s, l, l, again, err)
		}
	})
}

// Parsing and printing agree with the rational arithmetic of math/big.
func TestAgainstRationals(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	tries := 200_000
	if testing.Short() {
		tries = 20_000
	}
	for range tries {
		unit := []Unit{In, Mm, Um, Thous, Tenths}[random.IntN(5)]
		decimals := random.IntN(13)
		text := fmt.Sprintf("%d.%0*d", random.IntN(1_000_000), max(decimals, 1), random.Int64N(int64(powerOfTen(decimals))))
		exact, _ := new(big.Rat).SetString(text)
		exact.Mul(exact, new(big.Rat).SetInt64(int64(unit.Size())))
		l, err := Parse(text, unit)
		if want := exact.IsInt() && exact.Num().IsInt64() && exact.Num().Int64() <= most; (err == nil) != want || err == nil && int64(l) != exact.Num().Int64() {
			t.Fatalf("%s %s: got %d, %v, want %s", text, unit, l, err, exact)
		}
		l = Length(random.Int64N(2*most) - most)
		shown := new(big.Rat).SetFrac64(int64(l), int64(unit.Size()))
		if got, want := l.Format(unit, decimals), strings.TrimPrefix(shown.FloatString(decimals), "-"); strings.TrimPrefix(got, "-") != want {
			t.Fatalf("%d pm in %s, %d decimals: got %s, want %s", l, unit, decimals, got, want)
		}
	}
}
