package main

import (
	"strings"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/inspect"
	"flutelog/inspect/length"
)

// ground are the flags that tell how a tool was ground.
type ground struct {
	wheel, offset string
	divisions     int
}

func (g *ground) flags(f *flags) {
	f.StringVar(&g.wheel, "wheel", "", "the wheel it is ground with, by name")
	f.IntVar(&g.divisions, "divisions", 0, "divisions of the feed dial that were fed since the wheel's first touch")
	f.StringVar(&g.offset, "offset", "", "how far the tooth rest was set below the tool's centre at a cup wheel")
}

// tell puts into an inspection how the tool was ground.
func (g *ground) tell(in *inspect.Inspection, b *bench.File, unit length.Unit) error {
	if err := knownWheel(b, g.wheel); err != nil {
		return err
	}
	r := &reader{unit: unit}
	in.Wheel, in.Divisions, in.Offset = g.wheel, g.divisions, r.optional("offset", g.offset)
	switch {
	case r.err != nil:
		return r.err
	case g.divisions < 0:
		return usagef("--divisions %d: want 1 or more", g.divisions)
	case in.Offset != nil && (*in.Offset <= 0 || *in.Offset >= in.Tool.Diameter/2):
		return usagef("--offset %s: want more than zero and less than half the tool's diameter of %s", g.offset, in.Tool.Diameter.In(unit))
	case (g.divisions > 0 || in.Offset != nil) && in.Stage == inspect.Before:
		return usagef("--divisions and --offset tell how a tool was ground; give them between or after the grind")
	}
	return nil
}

// knownWheel refuses a wheel that the bench file, where it lists wheels, does not name.
func knownWheel(b *bench.File, name string) error {
	var names []string
	for _, w := range b.Wheels {
		if w.Name == name {
			return nil
		}
		names = append(names, w.Name)
	}
	if name == "" || names == nil {
		return nil
	}
	return usagef("wheel %q: the bench file lists %s", name, strings.Join(names, ", "))
}
