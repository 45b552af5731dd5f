// Package ports is the commands about a gauge's line: which ports there are, what a gauge sends on one, and a
// pretend gauge on a port of its own.
package ports

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/gauges"
	"flutelog/device"
	"flutelog/inspect/length"
)

// gaugeListenFlags are the flags of listening. Those of the line stand over what the bench file says.
type gaugeListenFlags struct {
	command.Places
	line                          device.Profile
	unit, request, replay, record string
}

func Listen() command.Command {
	var l gaugeListenFlags
	return command.Command{
		Name: "listen", Args: "[GAUGE]",
		Summary: "show what a gauge sends and what its pattern makes of it, and write its profile; GAUGE is its name in the bench file or its port",
		Example: "gauge listen --replay indicator.rec",
		Flags:   l.flags,
		Run:     l.run,
	}
}

func (l *gaugeListenFlags) flags(f *command.Flags) {
	f.WordVar(&l.unit, "unit", "", "unit that the gauge shows, where it does not send it: in, mm, um or thou")
	f.StringVar(&l.request, "request", "", `what asks the gauge for a reading, with \r and \n for its end; sent every second`)
	f.IntVar(&l.line.Baud, "baud", 0, "speed of the line (default 9600)")
	f.IntVar(&l.line.DataBits, "data-bits", 0, "data bits (default 8)")
	f.StringVar(&l.line.Parity, "parity", "", "none, odd, even, mark or space (default none)")
	f.IntVar(&l.line.StopBits, "stop-bits", 0, "stop bits (default 1)")
	f.StringVar(&l.line.DTR, "dtr", "", "on or off, for a gauge that lives on this line of the port")
	f.StringVar(&l.line.RTS, "rts", "", "the same")
	f.StringVar(&l.record, "record", "", "write all that passes on the line to a new file, for --replay")
	f.StringVar(&l.replay, "replay", "", "play such a file in place of the gauge")
	l.BenchFlag(f)
}

func (l *gaugeListenFlags) run(e command.Env, f *command.Flags) error {
	b, err := l.ReadBench(e)
	if err != nil {
		return err
	}
	gauge, err := l.gauge(b, f.Args)
	if err != nil {
		return err
	}
	if gauge.Profile, err = l.over(gauge.Profile); err != nil {
		return err
	}
	if err := gauge.Profile.Check(); err != nil {
		return command.Usage(err)
	}
	open, err := gauges.Opener(gauge, l.replay)
	if err != nil {
		return err
	}
	if l.record == "" {
		return listen(e, open, gauge.Profile)
	}
	file, err := os.OpenFile(l.record, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	return errors.Join(listen(e, device.Record(open, file), gauge.Profile), file.Close())
}

// gauge returns the gauge of the bench file, or one of which only the port is known.
func (l *gaugeListenFlags) gauge(b *bench.File, args []string) (bench.GaugeTable, error) {
	unknown := bench.GaugeTable{Profile: device.Profile{Name: "indicator"}}
	if len(args) == 0 {
		if l.replay == "" {
			return unknown, command.Hint(command.Usagef("no gauge: name one of the bench file, or a port"), "flutelog gauge ports lists the ports")
		}
		return unknown, nil
	}
	g, err := b.Gauge(args[0])
	if err == nil {
		return g, nil
	}
	if l.replay == "" {
		if _, missing := os.Stat(args[0]); missing != nil {
			return g, command.Hint(command.Usagef("%v, and there is no such port", err), "flutelog gauge ports lists the ports")
		}
	}
	unknown.Port = args[0]
	unknown.Practice = device.Invented(args[0])
	return unknown, nil
}

// over returns p with what the flags say over it.
func (l *gaugeListenFlags) over(p device.Profile) (device.Profile, error) {
	request, err := strconv.Unquote(`"` + l.request + `"`)
	if err != nil {
		return p, command.Usagef(`--request %q: write the bytes plainly, with \r and \n for the ends of lines`, l.request)
	}
	p.Unit = cmp.Or(length.Unit(l.unit), p.Unit)
	p.Request = cmp.Or(request, p.Request)
	p.Baud = cmp.Or(l.line.Baud, p.Baud)
	p.DataBits = cmp.Or(l.line.DataBits, p.DataBits)
	p.Parity = cmp.Or(l.line.Parity, p.Parity)
	p.StopBits = cmp.Or(l.line.StopBits, p.StopBits)
	p.DTR = cmp.Or(l.line.DTR, p.DTR)
	p.RTS = cmp.Or(l.line.RTS, p.RTS)
	return p, nil
}

// listen shows what comes on standard error until the person ends it or the recording does, and then writes the
// profile to standard output, so that it can be led into a bench file.
func listen(e command.Env, open device.Opener, p device.Profile) error {
	ctx, cancel := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer cancel()
	l := &listening{out: e.Stderr, given: p, candidates: []candidate{{profile: p}}}
	err := device.Listen(ctx, func() (io.ReadWriteCloser, error) {
		line, err := open()
		if err == nil {
			fmt.Fprint(e.Stderr, "Listening. Press the gauge's button, or move its contact.\nCtrl-C ends and writes the profile.\n")
		}
		return line, err
	}, p, l.hear)
	if errors.Is(err, io.EOF) || errors.Is(err, device.ErrLeftOver) {
		err = nil // a recording ends, or the person ended it
	}
	if l.last == "" {
		return err
	}
	fmt.Fprint(e.Stderr, "\nFor the bench file:\n\n")
	fmt.Fprint(e.Stdout, "[[gauge]]\n"+l.best().TOML())
	return err
}

// listening shows what is heard, and finds the profile that reads it.
type listening struct {
	out        io.Writer
	given      device.Profile
	candidates []candidate // the given profile, and those that follow from the advice
	stream     bool        // the gauge sends all the time
	last       string      // the bytes of the last run shown
	more       int         // runs like it since
	streak     streak
}

// candidate is a profile and how many of the frames heard it reads.
type candidate struct {
	profile device.Profile
	reads   int
}

const mostCandidates = 8

func (l *listening) hear(h device.Heard) error {
	if len(h.Raw) == 0 {
		l.showAdvice(h.Advice)
		return nil
	}
	if string(h.Raw) == l.last {
		l.more++
	} else {
		l.show(h)
	}
	if !l.stream && l.given.Take != device.Stream && l.given.Request == "" && l.streak.streams(h.At) {
		l.stream = true
		l.showAdvice([]string{`the gauge sends all the time: set take = "stream"`})
	}
	return nil
}

// show shows a run that is not like the last.
func (l *listening) show(h device.Heard) {
	if l.more > 0 {
		fmt.Fprintf(l.out, "  and the same %d times more\n", l.more)
	}
	l.last, l.more = string(h.Raw), 0
	fmt.Fprintf(l.out, "\n%s  %s\n  text     %s\n", h.At.Format("15:04:05.000"), h.Hex(), strconv.QuoteToASCII(l.last))
	advice := h.Advice
	said := ""
	for _, found := range h.Found {
		var refused *device.Refused
		if !errors.As(found.Err, &refused) {
			fmt.Fprintf(l.out, "  READING  %s %s\n", found.Frame.Text, found.Frame.Unit)
			continue
		}
		if why := refused.Err.Error(); why != said {
			fmt.Fprintf(l.out, "  refused  %s\n", why)
			said = why
		}
		advice = slices.DeleteFunc(slices.Clone(advice), func(a string) bool { return a == refused.Err.Error() || a == refused.Error() })
	}
	l.showAdvice(advice)
	if f, reads := l.try(h); reads {
		fmt.Fprintf(l.out, "  so read  %s %s\n", f.Text, f.Unit)
	}
}

func (l *listening) showAdvice(advice []string) {
	if len(advice) > 0 {
		fmt.Fprintf(l.out, "  change   %s\n", strings.Join(advice, "\n           "))
	}
}

// try reads the frames of a run by every candidate, the run's own advice among them. It returns a frame that the
// advice makes a reading of.
func (l *listening) try(h device.Heard) (f device.Frame, reads bool) {
	advised := slices.IndexFunc(l.candidates, func(c candidate) bool { return c.profile.TOML() == h.Profile.TOML() })
	if advised < 0 {
		advised = l.room()
		l.candidates[advised] = candidate{profile: h.Profile}
	}
	for i := range l.candidates {
		c := &l.candidates[i]
		for _, raw := range frames(h) {
			frame, err := decode(c.profile, raw)
			if err != nil {
				continue
			}
			c.reads++
			if i == advised && advised > 0 {
				f, reads = frame, true
			}
		}
	}
	return f, reads
}

// room returns a place for a candidate: a new one, or that of the one that reads least.
func (l *listening) room() int {
	if len(l.candidates) < mostCandidates {
		l.candidates = append(l.candidates, candidate{})
		return len(l.candidates) - 1
	}
	worst := 1
	for i := range l.candidates {
		if i > 0 && l.candidates[i].reads < l.candidates[worst].reads {
			worst = i
		}
	}
	return worst
}

// frames returns the frames of a run as they came.
func frames(h device.Heard) []string {
	var raw []string
	for _, found := range h.Found {
		var refused *device.Refused
		if errors.As(found.Err, &refused) {
			raw = append(raw, refused.Raw)
		} else {
			raw = append(raw, found.Frame.Raw)
		}
	}
	return raw
}

func decode(p device.Profile, raw string) (device.Frame, error) {
	d, err := device.NewDecoder(p)
	if err != nil {
		return device.Frame{}, err
	}
	return d.Decode([]byte(raw), time.Time{})
}

// best returns the profile that reads most; where none reads anything, the last that was advised.
func (l *listening) best() device.Profile {
	best := l.candidates[len(l.candidates)-1]
	for _, c := range l.candidates {
		if c.reads > best.reads || c.reads > 0 && c.reads == best.reads && c.profile.TOML() == l.given.TOML() {
			best = c
		}
	}
	if l.stream {
		best.profile.Take = device.Stream
	}
	return best.profile
}

// streak tells a gauge that sends all the time from a hand on its button.
type streak struct {
	second time.Time // the second being counted
	runs   int       // in it
	full   int       // seconds in a row with more runs than a hand makes
}

const (
	handsMost  = 4 // presses a second
	streakLong = 3 // seconds
)

// streams takes the time of a run and says whether the gauge sends all the time.
func (s *streak) streams(at time.Time) bool {
	second := at.Truncate(time.Second)
	if second != s.second {
		if s.runs <= handsMost || second.Sub(s.second) > time.Second {
			s.full = -1
		}
		s.second, s.runs = second, 0
		s.full++
	}
	s.runs++
	return s.full >= streakLong
}
