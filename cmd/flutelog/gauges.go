package main

import (
	"slices"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/device"
	"flutelog/inspect"
)

// openGauge is a gauge whose line is open.
type openGauge struct {
	*device.Gauge
	name     string
	take     device.Mode
	features []inspect.Feature // what is read with it
}

// how says what the person does to take a reading.
func (g *openGauge) how() string {
	switch g.take {
	case device.Stream:
		return "press Enter to take what " + g.name + " shows, or type the reading"
	case device.Poll:
		return "press Enter to read " + g.name + ", or type the reading"
	}
	return "press the button of " + g.name + ", or type the reading"
}

// gauges are the gauges of one inspection.
type gauges struct {
	open   []*openGauge
	events chan device.Event // what a person at the gauge should see
}

// indicated are the features read with a gauge for which the bench file names none: run-outs and drops.
var indicated = []inspect.Feature{
	inspect.ShankRunout, inspect.RadialRunout, inspect.AxialRunout, inspect.Master, inspect.ReliefDrop,
	inspect.SecondaryDrop, inspect.EndReliefDrop, inspect.EndSecondaryDrop, inspect.Dish,
}

// add opens a gauge by opener. Whoever opens gauges closes them all with close.
func (gs *gauges) add(g bench.Gauge, opener device.Opener) error {
	if gs.events == nil {
		gs.events = make(chan device.Event, 16)
	}
	opened, err := device.New(opener, g.Profile, func(e device.Event) {
		select {
		case gs.events <- e:
		default: // nobody has looked for a while; the gauge must not wait
		}
	})
	if err != nil {
		return err
	}
	features := g.Features
	if features == nil {
		features = indicated
	}
	p := g.Profile.WithDefaults()
	gs.open = append(gs.open, &openGauge{opened, p.Name, p.Take, features})
	return nil
}

// of returns the gauge that a feature is read with; nil is the keyboard.
func (gs *gauges) of(f inspect.Feature) *openGauge {
	for _, g := range gs.open {
		if slices.Contains(g.features, f) {
			return g
		}
	}
	return nil
}

func (gs *gauges) close() {
	for _, g := range gs.open {
		g.Close()
	}
}
