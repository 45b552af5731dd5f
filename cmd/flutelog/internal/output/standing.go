package output

import (
	"encoding/json"
	"fmt"
	"strings"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/internal/papers"
	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/mark"
	"flutelog/inspect/record"
)

func Day(stamp string) string { return stamp[:min(len(stamp), 10)] }

// ReportInspection prints an inspection as it stands, what its tool stands at first, and returns the status that it
// ends the command with.
func ReportInspection(e command.Env, in *record.Inspection, unit length.Unit, asJSON bool) error {
	if asJSON {
		text, err := InspectionJSON(in, unit)
		if err != nil {
			return err
		}
		if err := command.PrintJSON(e, text); err != nil {
			return err
		}
		return StandingStatus(in)
	}
	Standing(e, in, unit)
	Judgement(e, in.Inspection, in.Judgement, unit)
	Head(e, in.Newest)
	return StandingStatus(in)
}

// StandingStatus is how a command ends that is about an inspection: by what it calls for, unless its tool is stopped
// or it was conceded.
func StandingStatus(in *record.Inspection) error {
	switch in.Stands.Standing {
	case record.StandsLocked, record.StandsRecalled, record.StandsWithdrawn:
		return command.StatusFallsShort
	}
	if r := in.Ruling(); r != nil && r.Word != record.Withdraw && in.Stands.Standing.Usable() && in.Stands.Inspection == in.ID {
		return nil
	}
	return judgementStatus(in.Judgement)
}

// Standing prints the standing of an inspection's tool, and what was recorded of the inspection since it closed.
func Standing(e command.Env, in *record.Inspection, unit length.Unit) {
	fmt.Fprintln(e.Stdout, StandingLine(e, in.Stands))
	if in.Figures.Practice {
		fmt.Fprintln(e.Stdout, e.Marks().With(mark.Invented, "PRACTICE: read with a practice gauge; it stands for nothing"))
	}
	if in.Stands.NotReground && in.Stands.Inspection == in.ID {
		fmt.Fprintln(e.Stdout, "NOT REGROUND: no grind was needed")
	}
	for _, c := range in.Corrections {
		what, was, is := papers.Corrected(c.Correction, unit)
		fmt.Fprintln(e.Stdout, e.Marks().With(mark.Corrected, fmt.Sprintf("corrected: %s was %s, is %s, by %s on %s: %s", what, was, is, c.By, Day(c.At), c.Why)))
	}
	if in.Conflict {
		fmt.Fprintln(e.Stdout, "corrected at two benches that did not know of each other: judged anew with both; correct it once more, or inspect again")
	}
	for _, r := range in.Rulings {
		fmt.Fprintln(e.Stdout, RulingLine(e, r))
	}
}

// StandingLine is a standing's mark, the standing in capitals, and what it rests on.
func StandingLine(e command.Env, s record.State) string {
	line := e.Marks().With(mark.Standing(s.Standing), strings.ToUpper(string(s.Standing)))
	switch {
	case len(s.Locks) > 0 && s.Standing == record.StandsLocked:
		line += ": " + s.Locks[0].String()
	case s.Standing == record.StandsToSign && s.NotReground:
		line += ": no grind needed"
	case s.Standing == record.StandsToGrind:
		line += ": " + s.Lacks()
	case s.Lacks() != "" && s.Standing != record.StandsLocked:
		line += ": lacks " + s.Lacks()
	}
	if s.ToldAt != "" && s.Standing != record.StandsLocked {
		line += "; recorded at " + s.ToldAt + ", by the register's word"
	}
	if s.Away != nil {
		line += "; sent out"
		if s.Away.Where != "" {
			line += " to " + s.Away.Where
		}
	}
	if len(s.Open) > 0 {
		line += "; half read: " + strings.Join(s.Open, ", ")
	}
	return line
}

// ElsewhereJSON is what only a register has told of a tool, for a program.
type ElsewhereJSON struct {
	Asked   string   `json:"asked"`
	By      string   `json:"by"` // the register's address
	Records int      `json:"records"`
	Benches []string `json:"benches"`
}

// NewElsewhereJSON returns that, nil where no register was ever asked.
func NewElsewhereJSON(s record.State) *ElsewhereJSON {
	if s.Elsewhere.Asked == "" {
		return nil
	}
	return &ElsewhereJSON{s.Elsewhere.Asked, s.Elsewhere.By, s.Elsewhere.Records, append([]string{}, s.Elsewhere.Benches...)}
}

func RulingLine(e command.Env, r record.Ruled) string {
	line := fmt.Sprintf("ruling: %s by %s on %s", e.Marks().With(mark.Ruling(r.Word), string(r.Word)), r.By, Day(r.At))
	if r.Why != "" {
		line += ": " + r.Why
	}
	return line
}

// correctionJSON and RulingJSON are what was recorded of an inspection since, for a program.
type correctionJSON struct {
	Of  string         `json:"of"`  // in words; key or sight says it to a program
	Was any            `json:"was"` // a number in the unit in force, or yes or no; null where nothing was answered
	Is  any            `json:"is"`
	By  string         `json:"by"`
	Why string         `json:"why"`
	At  string         `json:"at"`
	Key *inspect.Key   `json:"key,omitempty"`
	Eye *inspect.Sight `json:"sight,omitempty"`
}

type RulingJSON struct {
	Ruling record.Word `json:"ruling"`
	By     string      `json:"by"`
	Why    string      `json:"why,omitempty"`
	At     string      `json:"at"`
}

// LockJSON is a lock that stands.
type LockJSON struct {
	Inspection string        `json:"inspection"`
	Stage      inspect.Stage `json:"stage"`
	Sight      inspect.Sight `json:"sight"`
	Flute      int           `json:"flute,omitempty"`
	At         string        `json:"at"`
	TakenBack  bool          `json:"taken_back,omitempty"`
}

func newCorrectionJSON(c record.Correction, unit length.Unit) correctionJSON {
	what, was, is := papers.Corrected(c, unit)
	out := correctionJSON{Of: what, By: c.By, Why: c.Why, At: c.At}
	if c.Seen != nil {
		out.Is, out.Eye = is, &c.Seen.Sight
		if c.WasSeen != nil {
			out.Was = was
		}
		return out
	}
	k := c.Reading.Key()
	out.Was, out.Is, out.Key = c.Was.Value.Number(unit), c.Reading.Value.Number(unit), &k
	return out
}

func NewLocksJSON(s record.State) []LockJSON {
	locks := []LockJSON{}
	for _, l := range s.Locks {
		locks = append(locks, LockJSON{l.Inspection, l.Stage, l.Sight, l.Flute, l.At, l.TakenBack})
	}
	return locks
}

// InspectionJSON is an inspection as it stands for a program: what it is judged as, and what was recorded of it since.
func InspectionJSON(in *record.Inspection, unit length.Unit) (json.RawMessage, error) {
	corrections, rulings := []correctionJSON{}, []RulingJSON{}
	for _, c := range in.Corrections {
		corrections = append(corrections, newCorrectionJSON(c.Correction, unit))
	}
	for _, r := range in.Rulings {
		rulings = append(rulings, RulingJSON{r.Word, r.By, r.Why, r.At})
	}
	return JoinedJSON(struct {
		Standing    record.Standing  `json:"standing"`
		Lacks       string           `json:"lacks,omitempty"`
		NotReground bool             `json:"not_reground,omitempty"`
		Practice    bool             `json:"practice,omitempty"`
		Locks       []LockJSON       `json:"locks"`
		Corrected   bool             `json:"corrected"`
		Corrections []correctionJSON `json:"corrections"`
		Rulings     []RulingJSON     `json:"rulings"`
	}{
		in.Stands.Standing, in.Stands.Lacks(), in.Stands.NotReground && in.Stands.Inspection == in.ID, in.Figures.Practice, NewLocksJSON(in.Stands),
		len(in.Corrections) > 0, corrections, rulings,
	}, judgementJSON(in.Inspection, in.Judgement, in.Newest, unit))
}

// JoinedJSON writes values that are objects as one.
func JoinedJSON(values ...any) (json.RawMessage, error) {
	var all []byte
	for _, v := range values {
		text, err := json.Marshal(v)
		if err != nil {
			return nil, err
		}
		switch {
		case len(text) <= 2: // nothing in it
		case all == nil:
			all = text
		default:
			all = append(append(all[:len(all)-1], ','), text[1:]...)
		}
	}
	return all, nil
}
