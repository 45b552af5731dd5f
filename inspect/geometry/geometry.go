// Package geometry computes what the edges of a cutter tell about its grind: runout, lands, relief, the
// setting of the grinder, the stock to take off, chip load, diameter, and the likely cause of an error.
// Every function is pure. Lengths and angles come in and go out exact; floats live only between.
//
// Conventions. The section plane is square to the tool's axis. D is the cutting diameter and R = D/2.
// Relief angles are radial: measured in that section from the tangent to the cutting circle at the edge;
// the secondary is steeper than the primary. Rake is positive when the face leans back under the edge.
// Widths are measured square to the cutting edge. Heights are indicator readings, plus is high. Flutes are
// numbered from 1, in the order in which they cut, and slices hold flute 1 first.
package geometry

import (
	"errors"
	"fmt"

	"flutelog/inspect/length"
)

const maxFlutes = 12

// results takes the floats of one calculation back to lengths and angles and keeps the first error, so
// that a formula reads as one expression.
type results struct{ err error }

func (r *results) length(micrometres float64) length.Length {
	l, err := length.FromMicrometres(micrometres)
	r.keep(err)
	return l
}

func (r *results) angle(radians float64) length.Angle {
	a, err := length.FromRadians(radians)
	r.keep(err)
	return a
}

func (r *results) keep(err error) {
	if r.err == nil {
		r.err = err
	}
}

// direction turns radians into an angle from 0 up to, not including, 360 degrees.
func (r *results) direction(radians float64) length.Angle {
	return turned(r.angle(radians))
}

// turned brings a into one turn: from 0 up to, not including, 360 degrees.
func turned(a length.Angle) length.Angle {
	const turn = 360 * length.Degree
	return (a%turn + turn) % turn
}

var errOneFlute = errors.New("one flute has no other to stand higher than: its diameter, land and relief are judged")

func checkFlutes(n, least int) error {
	if n == 1 && least == 2 {
		return errOneFlute
	}
	if n < least || n > maxFlutes {
		return fmt.Errorf("%d flutes: want %d to %d", n, least, maxFlutes)
	}
	return nil
}
