package inspect

import "testing"

// A probability that is not sure is never printed as if it were.
func TestFormatProbability(t *testing.T) {
	for p, want := range map[float64]string{
		0: "0.0000000000000001", 1: "0.9999999999999999", 0.5: "0.5", 0.9999989: "0.999999", 0.99999989: "0.9999999", 0.9999999999: "0.9999999999", 0.0000002: "0.0000002",
		0.97: "0.97", 0.12345678: "0.123457", 1e-30: "0.0000000000000001", 1.5: "0.9999999999999999",
	} {
		if got := FormatProbability(p); got != want {
			t.Errorf("%v: got %s, want %s", p, got, want)
		}
	}
}
