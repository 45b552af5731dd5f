package command

import (
	"context"
	"errors"
	"fmt"
	"time"

	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
	"flutelog/inspect/register"
	"flutelog/inspect/text"
)

// How long a register is waited for: where a tool's life is looked at, and where it is let out by what the register says.
const (
	askLooking = time.Second
	askRuling  = 20 * time.Second
)

// AskElsewhere asks the register, where this bench has joined one, what other benches have recorded of subjects. Where it does
// not answer within a second that is said, and what it told before stands. An old copy of a ledger is an error: it
// must record nothing.
func AskElsewhere(e Env, l *ledger.Ledger, subjects ...string) error {
	said, err := Asked(e, l, subjects...)
	if said != "" {
		fmt.Fprintf(e.Stderr, "flutelog: %s\n", said)
	}
	return err
}

// Asked is AskElsewhere that returns what is to be said, "" for nothing.
func Asked(e Env, l *ledger.Ledger, subjects ...string) (said string, err error) {
	_, err = ask(e, l, askLooking, subjects)
	if err == nil || errors.As(err, new(*register.Behind)) {
		return "", err
	}
	told, _ := l.Told(subjects[0])
	return fmt.Sprintf("%s: %s", record.NotAsked(told), text.Show(err.Error())), nil
}

// AskJob is AskElsewhere of a job and of its tools.
func AskJob(e Env, l *ledger.Ledger, job string) error {
	return ofJob(l, job, func(subjects ...string) error { return AskElsewhere(e, l, subjects...) })
}

// AskToRuleJob is AskToRule of a job and of its tools.
func AskToRuleJob(e Env, l *ledger.Ledger, why, job string) error {
	return ofJob(l, job, func(subjects ...string) error { return AskToRule(e, l, why, subjects...) })
}

// ofJob asks for a job, and then for its tools as they are known then.
func ofJob(l *ledger.Ledger, job string, ask func(subjects ...string) error) error {
	if err := ask(record.JobSubject(job)); err != nil || !register.Joins(l.Dir()) {
		return err
	}
	tools, err := record.ToolsOf(l, job)
	if err != nil || len(tools) == 0 {
		return nil // what there is to say of the job is said by who reads it
	}
	var subjects []string
	for _, tool := range tools {
		subjects = append(subjects, record.ToolSubject(tool))
	}
	return ask(subjects...)
}

// AskToRule asks afresh, before a person lets something out. Without an answer nothing is let out unless a reason is
// given: what stops it may stand at another bench.
func AskToRule(e Env, l *ledger.Ledger, why string, subjects ...string) error {
	_, err := ask(e, l, askRuling, subjects)
	if err == nil || errors.As(err, new(*register.Behind)) {
		return err
	}
	told, _ := l.Told(subjects[0])
	since := record.NotAsked(told)
	if why == "" {
		return Hint(fmt.Errorf("%w; %s: what stops it may stand at another bench", err, since), "try again, or give --why and let it out without the register")
	}
	fmt.Fprintf(e.Stderr, "flutelog: %s: %s\n", since, text.Show(err.Error()))
	return nil
}

// ask returns whether this bench has joined a register.
func ask(e Env, l *ledger.Ledger, most time.Duration, subjects []string) (joined bool, err error) {
	if !register.Joins(l.Dir()) {
		return false, nil
	}
	enrolment, _, err := register.Joined(l.Dir())
	if err != nil {
		return true, err
	}
	ctx, cancel := context.WithTimeout(context.Background(), most)
	defer cancel()
	_, err = register.Ask(ctx, l, enrolment, e.Now, subjects...)
	return true, err
}
