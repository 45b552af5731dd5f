package main

import (
	"encoding/json"
	"fmt"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// reportInspection prints an inspection as it stands, what its tool stands at first, and returns the status that it
// ends the command with.
func reportInspection(e env, in *record.Inspection, unit length.Unit, asJSON bool) error {
	if asJSON {
		text, err := inspectionJSON(in, unit)
		if err != nil {
			return err
		}
		if err := printJSON(e, text); err != nil {
			return err
		}
		return standingStatus(in)
	}
	printStanding(e, in, unit)
	printJudgement(e, in.Inspection, in.Judgement, unit)
	printHead(e, in.Newest)
	return standingStatus(in)
}

// standingStatus is how a command ends that is about an inspection: by what it calls for, unless its tool is stopped
// or it was conceded.
func standingStatus(in *record.Inspection) error {
	switch in.Stands.Standing {
	case record.StandsLocked, record.StandsRecalled, record.StandsWithdrawn:
		return statusFallsShort
	}
	if r := in.Ruling(); r != nil && r.Word != record.Withdraw && in.Stands.Standing.Usable() && in.Stands.Inspection == in.ID {
		return nil
	}
	return judgementStatus(in.Judgement)
}

// printStanding prints the standing of an inspection's tool, and what was recorded of the inspection since it closed.
func printStanding(e env, in *record.Inspection, unit length.Unit) {
	fmt.Fprintln(e.stdout, standingLine(in.Stands))
	if in.Figures.Practice {
		fmt.Fprintln(e.stdout, "PRACTICE: read with a practice gauge; it stands for nothing")
	}
	if in.Stands.NotReground && in.Stands.Inspection == in.ID {
		fmt.Fprintln(e.stdout, "NOT REGROUND: no grind was needed")
	}
	for _, c := range in.Corrections {
		fmt.Fprintln(e.stdout, correctionLine(c.Correction, unit))
	}
	if in.Conflict {
		fmt.Fprintln(e.stdout, "corrected at two benches that did not know of each other: judged anew with both; correct it once more, or inspect again")
	}
	for _, r := range in.Rulings {
		fmt.Fprintln(e.stdout, rulingLine(r))
	}
}

// standingLine is a standing in capitals, with what it rests on.
func standingLine(s record.State) string {
	line := strings.ToUpper(string(s.Standing))
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

// correctionLine says what was corrected, from what, by whom, when and why.
func correctionLine(c record.Correction, unit length.Unit) string {
	was, is := "nothing", ""
	if c.Seen != nil {
		if c.WasSeen != nil {
			was = seenWords(*c.WasSeen)
		}
		is = seenWords(*c.Seen)
	} else {
		was, is = c.Was.Value.In(unit), c.Reading.Value.In(unit)
	}
	return fmt.Sprintf("corrected: %s was %s, is %s, by %s on %s: %s", c.What(), was, is, c.By, sheetDay(c.At), c.Why)
}

func seenWords(s inspect.Seen) string {
	if s.Yes && s.Length != nil {
		return "yes, " + s.Length.String() + " long"
	}
	if s.Yes {
		return "yes"
	}
	return "no"
}

func rulingLine(r record.Ruled) string {
	line := fmt.Sprintf("ruling: %s by %s on %s", r.Word, r.By, sheetDay(r.At))
	if r.Why != "" {
		line += ": " + r.Why
	}
	return line
}

// correctionJSON and rulingJSON are what was recorded of an inspection since, for a program.
type correctionJSON struct {
	Of  string         `json:"of"`
	Was any            `json:"was"` // a number in the unit in force, or yes or no; null where nothing was answered
	Is  any            `json:"is"`
	By  string         `json:"by"`
	Why string         `json:"why"`
	At  string         `json:"at"`
	Key *inspect.Key   `json:"key,omitempty"`
	Eye *inspect.Sight `json:"sight,omitempty"`
}

type rulingJSON struct {
	Ruling record.Word `json:"ruling"`
	By     string      `json:"by"`
	Why    string      `json:"why,omitempty"`
	At     string      `json:"at"`
}

// lockJSON is a lock that stands.
type lockJSON struct {
	Inspection string        `json:"inspection"`
	Stage      inspect.Stage `json:"stage"`
	Sight      inspect.Sight `json:"sight"`
	At         string        `json:"at"`
	TakenBack  bool          `json:"taken_back,omitempty"`
}

func newCorrectionJSON(c record.Correction, unit length.Unit) correctionJSON {
	out := correctionJSON{Of: c.What(), By: c.By, Why: c.Why, At: c.At}
	if c.Seen != nil {
		out.Is, out.Eye = seenWords(*c.Seen), &c.Seen.Sight
		if c.WasSeen != nil {
			out.Was = seenWords(*c.WasSeen)
		}
		return out
	}
	k := c.Reading.Key()
	out.Was, out.Is, out.Key = c.Was.Value.Number(unit), c.Reading.Value.Number(unit), &k
	return out
}

func newLocksJSON(s record.State) []lockJSON {
	locks := []lockJSON{}
	for _, l := range s.Locks {
		locks = append(locks, lockJSON{l.Inspection, l.Stage, l.Sight, l.At, l.TakenBack})
	}
	return locks
}

// inspectionJSON is an inspection as it stands for a program: what it is judged as, and what was recorded of it since.
func inspectionJSON(in *record.Inspection, unit length.Unit) (json.RawMessage, error) {
	corrections, rulings := []correctionJSON{}, []rulingJSON{}
	for _, c := range in.Corrections {
		corrections = append(corrections, newCorrectionJSON(c.Correction, unit))
	}
	for _, r := range in.Rulings {
		rulings = append(rulings, rulingJSON{r.Word, r.By, r.Why, r.At})
	}
	return joinedJSON(struct {
		Standing    record.Standing  `json:"standing"`
		Lacks       string           `json:"lacks,omitempty"`
		NotReground bool             `json:"not_reground,omitempty"`
		Practice    bool             `json:"practice,omitempty"`
		Locks       []lockJSON       `json:"locks"`
		Corrected   bool             `json:"corrected"`
		Corrections []correctionJSON `json:"corrections"`
		Rulings     []rulingJSON     `json:"rulings"`
	}{
		in.Stands.Standing, in.Stands.Lacks(), in.Stands.NotReground && in.Stands.Inspection == in.ID, in.Figures.Practice, newLocksJSON(in.Stands),
		len(in.Corrections) > 0, corrections, rulings,
	}, judgementJSON(in.Inspection, in.Judgement, in.Newest, unit))
}

// joinedJSON writes values that are objects as one.
func joinedJSON(values ...any) (json.RawMessage, error) {
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
