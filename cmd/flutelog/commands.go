package main

import (
	"flutelog/cmd/flutelog/internal/calculators"
	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/rulings"
	"flutelog/cmd/flutelog/internal/tools"
	"flutelog/cmd/flutelog/internal/trends"
)

// commands is the whole command line, in the order help lists it. The board begins any of the others.
var commands []command.Command

func init() {
	commands = []command.Command{
		boardCommand(),
		tools.Tools(),
		rulings.Jobs(),
		inspectCommand(),
		rulings.Correct(),
		rulings.People(),
		gaugeCommands(),
		benchCommands(),
		showCommand(),
		historyCommand(),
		reportCommand(),
		sheetCommand(),
		tagCommand(),
		certificateCommand(),
		exportCommand(),
		trends.Trend(),
		wheelCommands(),
		ledgerCommands(),
		registerCommands(),
		calculators.Runout(),
		calculators.Land(),
		calculators.Relief(),
		calculators.Setup(),
		calculators.Stock(),
		calculators.Chipload(),
		calculators.Diameter(),
		pageCommand(),
		demoCommand(),
		versionCommand(),
		completionCommand(),
		manCommand(),
	}
}
