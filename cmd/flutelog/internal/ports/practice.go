package ports

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/device"
	"flutelog/inspect/length"
	"flutelog/inspect/text"
)

type gaugePracticeFlags struct{ take, unit, script string }

func Practice() command.Command {
	var p gaugePracticeFlags
	return command.Command{
		Name:    "practice",
		Summary: "a pretend gauge on a port of its own, which reads what you type and goes wrong when told",
		Example: "gauge practice --take button --unit in",
		Flags:   p.flags,
		Run:     func(e command.Env, _ *command.Flags) error { return p.run(e) },
	}
}

func (p *gaugePracticeFlags) flags(f *command.Flags) {
	f.StringVar(&p.take, "take", "button", "how it is read: button, stream or poll")
	f.WordVar(&p.unit, "unit", "in", "unit it shows: in or mm")
	f.StringVar(&p.script, "script", "", "file of its readings, one a line, with a fault's name after it where something is to go wrong")
}

func (p *gaugePracticeFlags) run(e command.Env) error {
	profile := device.PracticeProfile(device.Mode(p.take), length.Unit(p.unit))
	if err := profile.Check(); err != nil {
		return command.Usage(err)
	}
	steps, err := p.steps(profile.Unit)
	if err != nil {
		return err
	}
	gauge, err := device.StartPractice(profile, steps)
	if err != nil {
		return command.Usage(err)
	}
	defer gauge.Close()
	if profile.Port = gauge.Port(); profile.Port == "" {
		return errors.New("this system has no pseudo-terminals that another program could open; flutelog demo runs a practice gauge inside itself")
	}
	fmt.Fprintf(e.Stderr, "A pretend gauge, with invented readings, is on port\n%s\n\nFor the bench file:\n\n", profile.Port)
	fmt.Fprint(e.Stdout, "[[gauge]]\n"+profile.TOML())
	fmt.Fprint(e.Stderr, p.help())
	return p.play(e, gauge, profile.Unit)
}

// steps reads the script. Without one the readings are invented: the heights of four flutes, round after round.
func (p *gaugePracticeFlags) steps(unit length.Unit) ([]device.Step, error) {
	if p.script == "" {
		return inventedSteps(unit), nil
	}
	f, err := os.Open(p.script)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	steps, err := device.ReadScript(text.Reader(f, command.MostText), unit)
	if err != nil {
		return nil, command.Usage(fmt.Errorf("%s: %w", p.script, err))
	}
	return steps, nil
}

const inventedRounds = 250

func inventedSteps(unit length.Unit) []device.Step {
	step := length.Tenth
	if unit.Metric() {
		step = 2 * length.Micrometre
	}
	var steps []device.Step
	for range inventedRounds {
		for _, height := range []length.Length{0, -1, 2, 1} {
			steps = append(steps, device.Step{Value: height * step})
		}
	}
	return steps
}

func (p *gaugePracticeFlags) help() string {
	next := "Enter presses its button: the next reading is sent."
	switch device.Mode(p.take) {
	case device.Stream:
		next = "It sends all the time. Enter moves it on to the next reading."
	case device.Poll:
		next = "It sends the next reading whenever it is asked. Enter alone does nothing."
	}
	var faults []string
	for _, f := range device.Faults {
		faults = append(faults, string(f))
	}
	return fmt.Sprintf(`
%s
Type a reading such as 0.0003 for that one, and a fault after it to make it
go wrong, as in: 0.0003 noise
Faults: %s
q ends.
> `, next, command.Wrapped(strings.Join(faults, ", "), 64, "        "))
}

// play plays the script as the person at its prompt says.
func (p *gaugePracticeFlags) play(e command.Env, gauge *device.Practice, unit length.Unit) error {
	ctx, cancel := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer cancel()
	typed := make(chan string)
	go func() {
		defer close(typed)
		for lines := bufio.NewScanner(e.Stdin); lines.Scan(); {
			typed <- lines.Text()
		}
	}()
	for {
		select {
		case <-ctx.Done():
			return nil
		case line, more := <-typed:
			line = strings.TrimSpace(line)
			if !more || line == "q" {
				return nil
			}
			if err := p.send(gauge, line, unit); err != nil {
				fmt.Fprintf(e.Stderr, "not sent: %v\n", err)
			}
			fmt.Fprint(e.Stderr, "> ")
		}
	}
}

// send sends the reading on a line, or the script's next.
func (p *gaugePracticeFlags) send(gauge *device.Practice, line string, unit length.Unit) error {
	if line != "" {
		step, err := device.ParseStep(line, unit)
		if err != nil {
			return err
		}
		if err := gauge.Put(step); err != nil {
			return err
		}
	}
	if device.Mode(p.take) == device.Poll {
		return nil // when it is asked
	}
	if err := gauge.Press(); errors.Is(err, io.EOF) {
		return errors.New("the script is at its end; type a reading")
	}
	return nil
}
