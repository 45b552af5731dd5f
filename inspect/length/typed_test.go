package length

import (
	"errors"
	"math/big"
	"strings"
	"testing"
	"unicode"
)

// What a tool room types and what it is. Inch fractions by hand: 13/32 = 0.40625; tenths are 0.0001 in each.
func TestEntryTakes(t *testing.T) {
	inch, metric := Entry{Unit: In}, Entry{Unit: Mm}
	dial := Entry{Unit: In, Division: Tenth, Whole: true}
	for _, tt := range []struct {
		e     Entry
		typed string
		want  Length
		text  string
	}{
		{inch, ".0005", 5 * Tenth, ".0005"},
		{inch, "1/2", Inch / 2, "0.5"},
		{inch, "1/2in", Inch / 2, "0.5"},
		{inch, "13/32in", 406*Thou + Thou/4, "0.40625"},
		{inch, "13 / 32", 406*Thou + Thou/4, "0.40625"},
		{inch, "1 1/2", Inch * 3 / 2, "1.5"},
		{inch, "1-1/2", Inch * 3 / 2, "1.5"},
		{inch, "1½", Inch * 3 / 2, "1.5"},
		{inch, "½", Inch / 2, "0.5"},
		{inch, "-¼", -Inch / 4, "-0.25"},
		{inch, "7⁄8", Inch * 7 / 8, "0.875"},
		{inch, `0.5"`, Inch / 2, "0.5"},
		{inch, "0.5''", Inch / 2, "0.5"},
		{inch, "0.5″", Inch / 2, "0.5"},
		{inch, "0.5 Inch", Inch / 2, "0.5"},
		{inch, "0.5IN", Inch / 2, "0.5"},
		{inch, "3tenths", 3 * Tenth, "3"},
		{inch, "3t", 3 * Tenth, "3"},
		{inch, "-2t", -2 * Tenth, "-2"},
		{inch, "−2t", -2 * Tenth, "-2"},
		{inch, "12.58mm", 12*Millimetre + 580*Micrometre, "12.58"},
		{Entry{}, "12,58mm", 12*Millimetre + 580*Micrometre, "12.58"},
		{inch, "12.7 µm", 12_700 * Nanometre, "12.7"},
		{inch, "+.0001", Tenth, ".0001"},
		{metric, "0,01", 10 * Micrometre, "0.01"},
		{metric, ",01", 10 * Micrometre, ".01"},
		{metric, "12,7", 12*Millimetre + 700*Micrometre, "12.7"},
		{metric, "0,125", 125 * Micrometre, "0.125"},
		{metric, `1/2"`, Inch / 2, "0.5"},
		{dial, "3", 3 * Tenth, "0.0003"},
		{dial, "-1", -Tenth, "-0.0001"},
		{dial, "0", 0, "0.0000"},
		{dial, ".0003", 3 * Tenth, ".0003"},
		{dial, "3in", 3 * Inch, "3"},
		{Entry{Unit: In, Division: Thou}, "17div", 17 * Thou, "0.017"},
		{Entry{Unit: Mm, Division: 10 * Micrometre, Whole: true}, "17", 170 * Micrometre, "0.17"},
		{Entry{}, "0.0127mm", 12_700 * Nanometre, "0.0127"},
	} {
		t.Run(tt.typed, func(t *testing.T) {
			got, err := tt.e.Parse(tt.typed)
			if err != nil || got.Value != tt.want || got.Text != tt.text {
				t.Fatalf("got %d %q, %v; want %d %q", got.Value, got.Text, err, tt.want, tt.text)
			}
			if again, err := Parse(got.Text, got.Unit); err != nil || again != got.Value {
				t.Errorf("%s %s reads back as %d, %v", got.Text, got.Unit, again, err)
			}
		})
	}
}

// What is not taken is refused with what would be right, and what most likely was meant can be taken on a yes.
func TestEntryAsks(t *testing.T) {
	inch, metric := Entry{Unit: In}, Entry{Unit: Mm}
	for _, tt := range []struct {
		e          Entry
		typed, why string
		meant      Length // 0: it has to be typed again
	}{
		{inch, "0.0l1", "the second sign after the point is a letter l. 0.011?", 0},
		{inch, ".00O2", "letter O for nought. Type it again: .0002", 0},
		{inch, "I.5", "one sign is a letter I. 1.5?", 0},
		{inch, "--.0002", "two minus signs", 0},
		{inch, "+-3", "two signs", 0},
		{inch, "0,0002", "a comma in inches: 0.0002 in?", 2 * Tenth},
		{inch, "12,58mm", "a comma, and in is the unit here: 12.58 mm?", 12*Millimetre + 580*Micrometre},
		{metric, "1,270", "1.270 mm, or 1270 mm?", 1270 * Micrometre},
		{metric, "2t", "tenths are of a thou, an inch word. Here it is 0.005", 0},
		{metric, "1/2", "a fraction is of an inch", 0},
		{inch, "1/2mm", "a fraction is of an inch", 0},
		{inch, "1/3", "halves, quarters", 0},
		{inch, "1/0", "no fraction", 0},
		{inch, "1/", "no fraction", 0},
		{inch, "4 mil", "a thou or a millimetre", 0},
		{inch, "3d", "the step of this dial is not stated", 0},
		{Entry{Unit: In, Division: Tenth}, "2.5div", "whole divisions", 0},
		{inch, "ok", "a number is asked here", 0},
		{inch, "", "nothing was typed", 0},
		{inch, "1.2.3", "more than one decimal point", 0},
		{inch, "1.2,3", "a point and a comma", 0},
		{inch, "0 1 1", "more than one number", 0},
		{inch, ".0a1", `"a" stands in the number; write digits with one point`, 0},
		{inch, "0.1in0.2", "more than one number", 0},
		{inch, ".007,.012", "put a space between: .007 .012", 0},
		{metric, "0.1,0.2,0.3", "several numbers with commas between", 0},
		{inch, "1e-3", "exponents", 0},
		{Entry{}, "0.5", "no unit", 0},
	} {
		t.Run(tt.typed, func(t *testing.T) {
			got, err := tt.e.Parse(tt.typed)
			var slip *Slip
			if !errors.As(err, &slip) || !strings.Contains(slip.Why, tt.why) {
				t.Fatalf("got %v, %v; want %q", got, err, tt.why)
			}
			if (slip.Meant != nil) != (tt.meant != 0) || slip.Meant != nil && slip.Meant.Value != tt.meant {
				t.Errorf("meant %+v, want %d", slip.Meant, tt.meant)
			}
		})
	}
}

// Whatever is taken is what its text says, and what is refused is said in plain words of the shop.
func FuzzEntry(f *testing.F) {
	for _, s := range []string{"1/2", "1 1/2", "½", "3t", "0,01", "0.0l1", "−2t", "1,270", "17d", `0.5"`, "ok", "1e9", "9999999999999/512", "1\x00", "0.5\u202e"} {
		f.Add(s, false, false)
		f.Add(s, true, true)
	}
	f.Fuzz(func(t *testing.T, s string, metric, whole bool) {
		e := Entry{Unit: In, Division: Tenth, Whole: whole}
		if metric {
			e = Entry{Unit: Mm, Division: Micrometre, Whole: whole}
		}
		got, err := e.Parse(s)
		var slip *Slip
		if err != nil && !errors.As(err, &slip) {
			t.Fatalf("%q: %v is no slip", s, err)
		}
		if slip != nil {
			for _, foreign := range []string{"strconv", "syntax", "regexp", "parse", "invalid", "%!", "int64", "float"} {
				if strings.Contains(slip.Why, foreign) && !strings.Contains(s, foreign) {
					t.Errorf("%q: %s", s, slip.Why)
				}
			}
			if strings.IndexFunc(slip.Error(), unicode.IsControl) >= 0 {
				t.Errorf("%q: %q has a control character", s, slip.Error())
			}
			if slip.Meant == nil {
				return
			}
			got = *slip.Meant
		}
		want, ok := new(big.Rat).SetString(got.Text)
		if !ok || want.Mul(want, new(big.Rat).SetInt64(int64(got.Unit.Size()))).Cmp(new(big.Rat).SetInt64(int64(got.Value))) != 0 {
			t.Errorf("%q: %d is not %s %s", s, got.Value, got.Text, got.Unit)
		}
	})
}
