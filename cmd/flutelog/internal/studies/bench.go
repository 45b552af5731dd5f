package studies

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/gauges"
	"flutelog/cmd/flutelog/internal/hand"
	"flutelog/cmd/flutelog/internal/terminal"
	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/length"
)

// Bounds of a study at the bench.
const (
	mostParts  = 30
	mostTrials = 50
)

// atBench studies a gauge with the person who reads with it.
func (s *gaugeStudyFlags) atBench(k *studyKeeper, unit length.Unit) error {
	a, err := s.aims(k, unit)
	switch {
	case err != nil:
		return err
	case s.parts < 0 || s.parts > mostParts || s.parts == 0 && a.master == nil:
		return command.Usagef("--parts %d: want 1 to %d, or 0 with a --master", s.parts, mostParts)
	case s.trials < 2 || s.trials > mostTrials:
		return command.Usagef("--trials %d: want 2 to %d", s.trials, mostTrials)
	}
	if err := k.bench.CheckInspector(k.inspector); err != nil {
		return command.Usage(err) // before anything is read
	}
	gs, err := s.openGauge(k)
	if err != nil {
		return err
	}
	path, err := s.studyPath(k)
	if err != nil {
		return errors.Join(err, gs.Close())
	}
	finished, err := s.ask(k, gs, desk.Study{Parts: s.parts, Trials: s.trials, Master: a.master != nil}, unit, path)
	if closed := gs.Close(); err == nil && finished {
		err = closed
	}
	if err != nil {
		return err
	}
	if !finished {
		fmt.Fprintf(k.env.Stderr, "\nstopped; what was read is kept in %s. The same command goes on with it.\n", path)
		return command.StatusOpen
	}
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	parts, err := readRepeats(f, unit)
	if err := errors.Join(err, f.Close()); err != nil {
		return err
	}
	return cmp.Or(s.judgeRepeats(k, a, parts, unit), os.Remove(path))
}

// studyPath is the file of a gauge's unfinished study, beside the ledger.
func (s *gaugeStudyFlags) studyPath(k *studyKeeper) (string, error) {
	folder, err := k.places.LedgerFolder(k.env, k.bench)
	if err != nil {
		return "", err
	}
	name := strings.Map(func(r rune) rune {
		if r == '-' || r == '.' || r >= '0' && r <= '9' || r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z' {
			return r
		}
		return '_'
	}, k.gauge.Name)
	return filepath.Join(filepath.Clean(folder)+"-studies", name+".csv"), nil
}

// openGauge opens the line of the gauge studied; one that is not plugged in is read by eye and typed.
func (s *gaugeStudyFlags) openGauge(k *studyKeeper) (*gauges.Set, error) {
	gs := &gauges.Set{}
	if _, err := os.Stat(k.gauge.Port); err != nil && s.replay == "" {
		fmt.Fprintf(k.env.Stderr, "flutelog: gauge %q is not plugged in; its readings are typed\n", k.gauge.Name)
		gs.ByEye = []bench.GaugeTable{k.gauge}
		return gs, nil
	}
	opener, err := gauges.Opener(k.gauge, s.replay)
	if err != nil {
		return gs, err
	}
	return gs, gs.Add(k.gauge, opener)
}

// ask takes the readings at the desk, each on disk as it is read; false when the person stops.
func (s *gaugeStudyFlags) ask(k *studyKeeper, gs *gauges.Set, study desk.Study, unit length.Unit, path string) (finished bool, err error) {
	ctx, cancel := signal.NotifyContext(context.Background(), syscall.SIGTERM, os.Interrupt)
	defer cancel()
	changed := make(chan struct{}, 1)
	screen := &terminal.Terminal{In: k.env.Stdin, Out: k.env.Stderr, Now: k.env.Now}
	screen.Open()
	defer screen.Close()
	c := hand.Config{
		Now: k.env.Now, Gauges: gs,
		Known: desk.Known{About: "gauge " + k.gauge.Name, Dials: func(inspect.Feature) (length.Length, bool) {
			return k.gauge.Resolution, k.bench.BareNumbers == bench.Divisions
		}},
		Changed: func() {
			select {
			case changed <- struct{}{}:
			default:
			}
		},
	}
	if screen.Raw() {
		c.Settle = hand.Settles
	}
	h, err := hand.Study(c, study, unit, path)
	if err != nil {
		return false, err
	}
	if so := h.SoFar(); so != "" {
		screen.Tell("taking the study up again: %s\n", so)
	}
	screen.Run(ctx, h, changed)
	came := h.Wait()
	return came.Closed, h.PutDown()
}
