package main

// gaugeCommands are the commands about gauges.
func gaugeCommands() command {
	return command{name: "gauge", summary: "the gauges of the bench: study how well one reads", sub: []command{
		gaugeStudyCommand(),
	}}
}
