package record

import (
	"errors"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// Offset is a size of a tool that a machinist enters, as it was read last and as the machinist last had it.
type Offset struct {
	Now *length.Length // nil where it was never read
	Was *length.Length // nil where nothing is known of it then

	LetOut bool // Was is of when it was let out; else of when it came in
}

// Since says since when the size changed.
func (o Offset) Since() string {
	if o.LetOut {
		return "since last let out"
	}
	return "since it came in"
}

// Change returns by how much the size changed, nil where that is not known.
func (o Offset) Change() *length.Length {
	if o.Now == nil || o.Was == nil {
		return nil
	}
	d := *o.Now - *o.Was
	return &d
}

// Offsets are the cutting diameter and the length of a tool.
type Offsets struct {
	Diameter, Length Offset
}

// FindOffsets returns what a machinist enters for a tool. The machinist last had it as it was read when it was last let
// out, by a release or a concession, before it was read as it is now; or else, where it never was, as it was read before
// its grind. What was given up or read in practice does not count.
func FindOffsets(l Source, tool string) (Offsets, error) {
	_, all, err := Whole(l, tool)
	if errors.Is(err, ErrNoTool) {
		return Offsets{}, nil
	}
	return OffsetsOf(all), err
}

// OffsetsOf returns the same of a tool's inspections, the oldest first, as of the last of them.
func OffsetsOf(all []Inspection) Offsets {
	var o Offsets
	type had struct{ released, came *length.Length }
	var diameter, long had
	note := func(o *Offset, h *had, now *length.Length, released bool, stage inspect.Stage) {
		if now == nil {
			return
		}
		o.Now, o.Was, o.LetOut = now, h.released, h.released != nil
		if o.Was == nil {
			o.Was = h.came
		}
		switch {
		case released:
			h.released = now
		case stage == inspect.Before:
			h.came = now
		}
	}
	for _, in := range all {
		if in.Figures.Discarded || in.Figures.Practice {
			continue
		}
		r := in.Ruling()
		released := r != nil && r.Word != Withdraw
		note(&o.Diameter, &diameter, lengthIn(in.Judgement, inspect.Diameter), released, in.Stage)
		note(&o.Length, &long, lengthIn(in.Judgement, inspect.Length), released, in.Stage)
	}
	return o
}

// lengthIn returns the length that a judgement has of a feature, nil for none.
func lengthIn(j inspect.Judgement, f inspect.Feature) *length.Length {
	q := j.Figure(f)
	if q == nil {
		return nil
	}
	l := q.Length()
	return &l
}
