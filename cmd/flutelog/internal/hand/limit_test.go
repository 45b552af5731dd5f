package hand

import (
	"testing"

	"flutelog/inspect/length"
)

// Half a thou is 0.0127 mm: who reads 0.013 and sees that as the limit is told something else when it is judged.
func TestLimitIsToldWhole(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		limit length.Length
		unit  length.Unit
		want  string
	}{
		{length.Thou / 2, length.In, ".0005"},
		{length.Thou / 2, length.Mm, "0.0127"},
		{3 * length.Tenth, length.Mm, "0.00762"},
		{length.Thou / 4, length.In, ".00025"},
		{length.Millimetre / 100, length.Mm, "0.010"},
	} {
		if got := limitFigure(test.limit, test.unit); got != test.want {
			t.Errorf("%v: %q, want %q", test.limit, got, test.want)
		}
	}
}
