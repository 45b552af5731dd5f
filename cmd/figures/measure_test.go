//go:build linux

package main

import (
	"math"
	"testing"
	"time"
)

func TestExponent(t *testing.T) {
	sizes := []int{10, 100, 1000}
	for _, test := range []struct {
		name string
		took []time.Duration
		want float64
	}{
		{"not at all", []time.Duration{5, 5, 5}, 0},
		{"in proportion", []time.Duration{20, 200, 2000}, 1},
		{"as the square", []time.Duration{3, 300, 30_000}, 2},
		{"least squares: 1 and 3 over two decades", []time.Duration{1, 10, 10_000}, 2},
	} {
		t.Run(test.name, func(t *testing.T) {
			if got := exponent(sizes, test.took); math.Abs(got-test.want) > 1e-12 {
				t.Errorf("got %v, want %v", got, test.want)
			}
		})
	}
}

func TestShort(t *testing.T) {
	for d, want := range map[time.Duration]string{999: "999ns", 12_345: "12.3µs", 1_000_000: "1ms", 7_586_400_000: "7.59s", 0: "0s"} {
		if got := short(d); got != want {
			t.Errorf("got %s, want %s", got, want)
		}
	}
}
