package main

import (
	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/ports"
	"flutelog/cmd/flutelog/internal/studies"
)

// gaugeCommands are the commands about gauges.
func gaugeCommands() command.Command {
	return command.Command{Name: "gauge", Summary: "the gauges of the bench: find one, listen to it, practise with a pretend one, study how well one reads", Sub: []command.Command{
		ports.List(),
		ports.Listen(),
		ports.Practice(),
		studies.Study(),
	}}
}
