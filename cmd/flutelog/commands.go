package main

// commands is the whole command line, in the order help lists it.
var commands = []command{
	toolCommands(),
	inspectCommand(),
	gaugeCommands(),
	showCommand(),
	historyCommand(),
	reportCommand(),
	ledgerCommands(),
	runoutCommand(),
	demoCommand(),
}
