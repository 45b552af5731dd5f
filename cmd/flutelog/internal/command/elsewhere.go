package command

import (
	"errors"
	"fmt"

	"flutelog/cmd/flutelog/internal/inquiry"
	"flutelog/inspect/ledger"
)

// AskElsewhere asks the register, where this bench has joined one, what other benches recorded of subjects. That it does not
// answer is said on standard error. An old copy of a ledger is an error: it must record nothing.
func AskElsewhere(e Env, l *ledger.Ledger, subjects ...string) error {
	return say(e)(inquiry.New(l, e.Now).Look(subjects...))
}

// AskJob is AskElsewhere of a job and of its tools.
func AskJob(e Env, l *ledger.Ledger, job string) error {
	return say(e)(inquiry.New(l, e.Now).LookJob(job))
}

// AskToRule asks afresh, before a person lets something out. Without an answer that is refused unless a reason is given.
func AskToRule(e Env, l *ledger.Ledger, why string, subjects ...string) error {
	return say(e)(inquiry.New(l, e.Now).ToRule(why, subjects...))
}

// AskToRuleJob is AskToRule of a job and of its tools.
func AskToRuleJob(e Env, l *ledger.Ledger, why, job string) error {
	return say(e)(inquiry.New(l, e.Now).ToRuleJob(why, job))
}

func say(e Env) func(said string, err error) error {
	return func(said string, err error) error {
		if said != "" {
			fmt.Fprintf(e.Stderr, "flutelog: %s\n", said)
		}
		if errors.As(err, new(*inquiry.NoWord)) {
			return Hint(err, "try again, or give --why and let it out without the register")
		}
		return err
	}
}
