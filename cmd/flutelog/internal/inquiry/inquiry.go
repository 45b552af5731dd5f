// Package inquiry asks the register, where a bench has joined one, what other benches recorded of a tool or a job: before
// it is looked at, and afresh before a person lets it out.
package inquiry

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
	"flutelog/inspect/register"
	"flutelog/inspect/text"
)

// How long a register is waited for: where something is looked at, and where it is let out by what the register says.
const (
	looking = time.Second
	ruling  = 20 * time.Second
)

// notAgain is for how long a register that did not answer is not asked again where something is only looked at.
const notAgain = 20 * time.Second

// Asker asks for the ledger of a bench. It may be used by several goroutines.
type Asker struct {
	ledger *ledger.Ledger
	now    func() time.Time

	mu     sync.Mutex
	failed time.Time // when it did not answer last; zero where it has since
	why    error
}

// New returns an Asker.
func New(l *ledger.Ledger, now func() time.Time) *Asker { return &Asker{ledger: l, now: now} }

// Look asks what other benches recorded of subjects. What is to be said where the register does not answer within a second
// comes back; what it told before stands. An old copy of a ledger is an error: it must record nothing.
func (a *Asker) Look(subjects ...string) (said string, err error) {
	a.mu.Lock()
	failed, why := a.failed, a.why
	a.mu.Unlock()
	if failed.IsZero() || a.now().Sub(failed) > notAgain {
		why = a.ask(looking, subjects)
	}
	if why == nil || errors.As(why, new(*register.Behind)) {
		return "", why
	}
	if none := new(register.NoAnswer); errors.As(why, &none) {
		return fmt.Sprintf("%s: the register at %s does not answer", a.since(subjects), text.Show(none.Address)), nil
	}
	return a.since(subjects) + ": " + text.Show(why.Error()), nil
}

// LookJob is Look of a job and of its tools.
func (a *Asker) LookJob(job string) (said string, err error) {
	err = a.ofJob(job, func(subjects ...string) error {
		more, err := a.Look(subjects...)
		if said == "" {
			said = more
		}
		return err
	})
	return said, err
}

// ToRule asks afresh, before a person lets something out. Without an answer that is refused, unless why says a reason: what
// stops it may stand at another bench. What is to be said all the same comes back.
func (a *Asker) ToRule(why string, subjects ...string) (said string, err error) {
	err = a.ask(ruling, subjects)
	switch {
	case err == nil || errors.As(err, new(*register.Behind)):
		return "", err
	case why == "":
		return "", &NoWord{fmt.Errorf("%w; %s: what stops it may stand at another bench", err, a.since(subjects))}
	}
	return a.since(subjects) + ": " + text.Show(err.Error()), nil
}

// ToRuleJob is ToRule of a job and of its tools.
func (a *Asker) ToRuleJob(why, job string) (said string, err error) {
	err = a.ofJob(job, func(subjects ...string) error {
		more, err := a.ToRule(why, subjects...)
		if said == "" {
			said = more
		}
		return err
	})
	return said, err
}

// NoWord says that the register did not answer, and that no reason was given to go on without it.
type NoWord struct{ error }

func (n *NoWord) Unwrap() error { return n.error }

// ofJob asks for a job, and then for its tools as they are known then.
func (a *Asker) ofJob(job string, ask func(subjects ...string) error) error {
	if err := ask(record.JobSubject(job)); err != nil || !register.Joins(a.ledger.Dir()) {
		return err
	}
	tools, err := record.ToolsOf(a.ledger, job)
	if err != nil || len(tools) == 0 {
		return nil // what there is to say of the job is said by who reads it
	}
	var subjects []string
	for _, tool := range tools {
		subjects = append(subjects, record.ToolSubject(tool))
	}
	return ask(subjects...)
}

func (a *Asker) since(subjects []string) string {
	told, _ := a.ledger.Told(subjects[0])
	return record.NotAsked(told)
}

func (a *Asker) ask(most time.Duration, subjects []string) error {
	if !register.Joins(a.ledger.Dir()) {
		return nil
	}
	enrolment, _, err := register.Joined(a.ledger.Dir())
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(context.Background(), most)
	defer cancel()
	_, err = register.Ask(ctx, a.ledger, enrolment, a.now, subjects...)
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.failed, a.why = (time.Time{}), nil; err != nil {
		a.failed, a.why = a.now(), err
	}
	return err
}
