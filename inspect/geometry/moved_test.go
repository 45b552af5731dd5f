package geometry

import (
	"testing"

	"flutelog/inspect/length"
)

// Worked by hand: heights 0, 4, -2, 1 tenths, and the same a tooth on. A tooth of noise is less than a third of what they are off.
func TestMovedByOne(t *testing.T) {
	tenths := func(ns ...length.Length) []length.Length {
		for i := range ns {
			ns[i] *= length.Tenth
		}
		return ns
	}
	for _, c := range []struct {
		name           string
		expected, read []length.Length
		want           int
	}{
		{"as they were", tenths(0, 4, -2, 1), tenths(0, 4, -2, 1), 0},
		{"another zero of the dial", tenths(0, 4, -2, 1), tenths(5, 9, 3, 6), 0},
		{"the next tooth read as this one", tenths(0, 4, -2, 1), tenths(4, -2, 1, 0), 1},
		{"and with another zero", tenths(0, 4, -2, 1), tenths(0, -6, -3, -4), 1},
		{"and a tenth of noise", tenths(0, 4, -2, 1), tenths(4, -2, 2, 0), 1},
		{"the tooth before", tenths(0, 4, -2, 1), tenths(1, 0, 4, -2), -1},
		{"within two steps", tenths(0, 1, 0, 0), tenths(1, 0, 0, 0), 0},
		{"another shape altogether", tenths(0, 4, -2, 1), tenths(0, 0, 6, 1), 0},
		{"two flutes", tenths(0, 9), tenths(9, 0), 0},
	} {
		if got := MovedByOne(c.expected, c.read, length.Tenth); got != c.want {
			t.Errorf("%s: %d, want %d", c.name, got, c.want)
		}
	}
}
