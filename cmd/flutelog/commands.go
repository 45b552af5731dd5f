package main

// commands is the whole command line, in the order help lists it. The board begins any of the others.
var commands []command

func init() {
	commands = []command{
		boardCommand(),
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
		tagCommand(),
		certificateCommand(),
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
		versionCommand(),
		completionCommand(),
		manCommand(),
	}
}
