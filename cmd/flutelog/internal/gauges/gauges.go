// Package gauges is the gauges of one inspection: which are there, what each is read for, and how what they
// send becomes a reading. The terminal and the bench page both take their readings through it.
package gauges

import (
	"errors"
	"fmt"
	"os"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/device"
	"flutelog/inspect"
	"flutelog/inspect/length"
)

// Wired is a gauge whose line is open.
type Wired struct {
	*device.Gauge
	Name       string
	Mode       device.Mode
	Features   []inspect.Feature // what is read with it
	Unit       length.Unit       // that the bench reads it in
	Resolution length.Length     // 0 is not stated
	Due        string            // of its calibration, YYYY-MM-DD
	Practice   bool              // it plays invented readings
}

// Holds says whether a gauge that gave err in place of a reading gives nothing more until the person has seen to it
// and Confirm was called.
func (g *Wired) Holds(err error) bool {
	return errors.Is(err, device.ErrDisconnected) || errors.Is(err, device.ErrStuck) || g.Mode == device.Button && errors.Is(err, device.ErrFlood)
}

// Set is the gauges of one inspection. The zero Set is none.
type Set struct {
	Open   []*Wired
	ByEye  []bench.GaugeTable // whose readings are typed where no open one reads the feature
	Events chan Event         // what a person at the gauges should see
}

// Event is something that happened at one of the gauges.
type Event struct {
	Gauge string
	device.Event
}

// Present returns the gauges of the bench file whose port is there, and those whose port is not. A gauge
// without a port is neither.
func Present(b *bench.File) (there, away []bench.GaugeTable) {
	for _, g := range b.Gauges {
		if _, err := os.Stat(g.Port); err == nil {
			there = append(there, g)
		} else if g.Port != "" {
			away = append(away, g)
		}
	}
	return there, away
}

// Add opens a gauge by opener. Whoever opens gauges closes them all with Close.
func (s *Set) Add(g bench.GaugeTable, opener device.Opener) error {
	if s.Events == nil {
		s.Events = make(chan Event, 64)
	}
	events, name := s.Events, g.Profile.WithDefaults().Name
	opened, err := device.New(opener, g.Profile, func(e device.Event) {
		select {
		case events <- Event{name, e}:
		default: // nobody has looked for a while; the gauge must not wait
		}
	})
	if err != nil {
		return err
	}
	p := g.Profile.WithDefaults()
	s.Open = append(s.Open, &Wired{opened, p.Name, p.Take, g.Reading(), p.Unit, p.Resolution, g.CalibrationDue, p.Practice})
	return nil
}

// For returns the name of the first of some gauges that a feature is read with, "" when none is.
func For(gs []bench.GaugeTable, f inspect.Feature) string {
	for _, g := range gs {
		if g.Reads(f) {
			return g.Name
		}
	}
	return ""
}

// Close closes the lines of all gauges. It is an error when one played a recording, and not to its end.
func (s *Set) Close() error {
	var wrong []error
	for _, g := range s.Open {
		if err := g.Close(); err != nil {
			wrong = append(wrong, fmt.Errorf("gauge %q: %w", g.Name, err))
		}
	}
	return errors.Join(wrong...)
}

// Opener returns what opens a gauge's line: its port, or a recording of it where one is given.
func Opener(g bench.GaugeTable, replay string) (device.Opener, error) {
	if replay == "" {
		return device.OpenSerial(g.Profile), nil
	}
	f, err := os.Open(replay)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	recording, err := device.ReadRecording(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", replay, err)
	}
	return recording.Open, nil
}
