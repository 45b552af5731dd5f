package length

import (
	"math/big"
	"testing"
)

// An angle that is read prints back to itself, and is what math/big reads, to the last billionth of a degree.
func FuzzParseAngle(f *testing.F) {
	for _, s := range []string{"9", "9.5deg", " -0.25 deg ", "89.999999999", "9223372036.854775807", "1e2", "9,5", "½", "--1", "1.0000000001"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		a, err := ParseAngle(s)
		if err != nil {
			return
		}
		if again, err := ParseAngle(a.String()); err != nil || again != a {
			t.Fatalf("%q: %s reads back as %v, %v", s, a, again, err)
		}
		degrees := s[:numberEnd(s)]
		if degrees == "" {
			return // a blank before the number
		}
		want, ok := new(big.Rat).SetString(degrees)
		if !ok || want.Mul(want, big.NewRat(int64(Degree), 1)).Cmp(big.NewRat(int64(a), 1)) != 0 {
			t.Errorf("%q: got %d billionths of a degree, want %v", s, a, want)
		}
	})
}
