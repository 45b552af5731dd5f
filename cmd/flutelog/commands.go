package main

import (
	"flutelog/cmd/flutelog/internal/command"
)

// commands is the whole command line, in the order help lists it. The board begins any of the others.
var commands []command.Command

func init() {
	commands = []command.Command{
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
		registerCommands(),
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
