package main

import (
	"flutelog/cmd/flutelog/internal/gauges"
	"flutelog/device"
)

// howToTake says what the person does at the keyboard to take a reading from a gauge.
func howToTake(g *gauges.Gauge) string {
	switch g.Mode {
	case device.Stream:
		return "press Enter to take what " + g.Name + " shows, or type the reading"
	case device.Poll:
		return "press Enter to read " + g.Name + ", or type the reading"
	}
	return "press the button of " + g.Name + ", or type the reading"
}
