package main

// commands is the whole command line, in the order help lists it.
var commands = []command{
	toolCommands(),
	jobCommands(),
	inspectCommand(),
	correctCommand(),
	personCommands(),
	gaugeCommands(),
	benchCommands(),
	showCommand(),
	historyCommand(),
	reportCommand(),
	sheetCommand(),
	exportCommand(),
	trendCommand(),
	wheelCommands(),
	ledgerCommands(),
	runoutCommand(),
	landCommand(),
	reliefCommand(),
	setupCommand(),
	stockCommand(),
	chiploadCommand(),
	diameterCommand(),
	pageCommand(),
	demoCommand(),
}
