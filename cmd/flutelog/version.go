package main

import (
	"fmt"
	"runtime"
	"runtime/debug"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect/ledger"
)

func versionCommand() command.Command {
	return command.Command{
		Name: "version", Summary: "which build this is, and which ledger format it writes",
		Example: "version",
		Run: func(e command.Env, f *command.Flags) error {
			revision, at, dirty := "not known", "", ""
			if info, ok := debug.ReadBuildInfo(); ok {
				for _, s := range info.Settings {
					switch {
					case s.Key == "vcs.revision":
						revision = s.Value[:min(len(s.Value), 12)]
					case s.Key == "vcs.time":
						at = " of " + s.Value
					case s.Key == "vcs.modified" && s.Value == "true":
						dirty = ", changed since"
					}
				}
			}
			_, err := fmt.Fprintf(e.Stdout, "flutelog, revision %s%s%s\nledger format %d\n%s, %s/%s\n", revision, at, dirty, ledger.Format, runtime.Version(), runtime.GOOS, runtime.GOARCH)
			return err
		},
	}
}

func completionCommand() command.Command {
	return command.Command{
		Name: "completion", Args: "SHELL", Summary: "print what completes commands, flags and tools at a shell: bash or zsh",
		Example: "completion bash",
		Run: func(e command.Env, f *command.Flags) error {
			switch f.Args[0] {
			case "bash":
				return command.Completion(e.Stdout, commands, "")
			case "zsh":
				return command.Completion(e.Stdout, commands, "autoload -U +X bashcompinit && bashcompinit\n")
			}
			return command.Usagef("completion %q: want bash or zsh", f.Args[0])
		},
	}
}

func manCommand() command.Command {
	return command.Command{
		Name: "man", Summary: "print the manual page, made of the commands' own help: flutelog man > flutelog.1",
		Example: "man",
		Run:     func(e command.Env, f *command.Flags) error { return command.Manual(e.Stdout, commands, e.Now()) },
	}
}
