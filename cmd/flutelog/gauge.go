package main

// gaugeCommands are the commands about gauges.
func gaugeCommands() command {
	return command{name: "gauge", summary: "the gauges of the bench: find one, listen to it, practise with a pretend one, study how well one reads", sub: []command{
		gaugePortsCommand(),
		gaugeListenCommand(),
		gaugePracticeCommand(),
		gaugeStudyCommand(),
	}}
}
