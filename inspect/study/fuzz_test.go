package study

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// Numbers that are read are numbers, and read back the same at full precision.
func FuzzReadNumbers(f *testing.F) {
	for _, s := range []string{"299.85\n299.74\n", "# c\n\n-0\n1e308", "NaN", "Inf", "0x1p-2", "1_000", "1,5", "1e999", "1\x00", "½"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		xs, err := ReadNumbers(strings.NewReader(text))
		if err != nil {
			return
		}
		var printed strings.Builder
		for _, x := range xs {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Fatalf("%q: read %v", text, x)
			}
			fmt.Fprintln(&printed, x)
		}
		again, err := ReadNumbers(strings.NewReader(printed.String()))
		if err != nil || fmt.Sprint(again) != fmt.Sprint(xs) {
			t.Errorf("%v reads back as %v, %v", xs, again, err)
		}
	})
}
