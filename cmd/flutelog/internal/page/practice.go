package page

import (
	"math/rand/v2"

	"flutelog/device"
	"flutelog/inspect/length"
)

// PracticeName is the gauge's name in every reading of a practice gauge, so that records, sheets and reports
// show them as invented.
const PracticeName = "practice (invented)"

// Practice is a pretend gauge with a button on the page.
type Practice struct {
	*device.Practice
	Profile device.Profile
}

// practiceReadings is how often the button can be pressed.
const practiceReadings = 5000

// NewPractice starts a practice gauge that shows unit and has readings for a day. They are invented: heights of
// about the drop that a 1/2 in tool's relief makes, a few ten-thousandths of an inch apart, so that they pass
// for run-outs and for drops alike.
func NewPractice(unit length.Unit) (*Practice, error) {
	middle, step := 22*length.Tenth, length.Tenth/10
	if unit == length.Mm {
		middle, step = 56*length.Micrometre, length.Micrometre/10
	}
	steps := make([]device.Step, practiceReadings)
	for i := range steps {
		steps[i].Value = middle + length.Length(rand.IntN(21)-10)*step
	}
	p := device.PracticeProfile(device.Button, unit)
	p.Resolution = step
	return StartPractice(p, steps)
}

// StartPractice starts a practice gauge with a profile and readings of its own.
func StartPractice(p device.Profile, steps []device.Step) (*Practice, error) {
	p.Name = PracticeName
	gauge, err := device.StartPractice(p, steps)
	if err != nil {
		return nil, err
	}
	p.Port = gauge.Port()
	return &Practice{gauge, p}, nil
}
