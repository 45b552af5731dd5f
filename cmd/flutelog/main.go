// Flutelog records what a dial indicator and a loupe say of an end mill before and after it is reground,
// judges it and says what work it calls for.
//
// Where output goes: results a person or a program asked for go to standard output; prompts, progress,
// cautions and errors go to standard error, errors as "flutelog: …" and advice as "flutelog: hint: …".
package main

import (
	"os"
	"time"

	"flutelog/cmd/flutelog/internal/command"
)

func main() {
	e := command.Env{Stdin: os.Stdin, Stdout: os.Stdout, Stderr: os.Stderr, Getenv: os.Getenv, Now: time.Now, Sender: command.NewSender()}
	os.Exit(int(run(e, os.Args[1:])))
}

// run carries out one command line and returns its exit status.
func run(e command.Env, args []string) command.Status { return command.Run(e, commands, args) }
