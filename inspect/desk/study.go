package desk

import (
	"fmt"

	"flutelog/inspect"
)

// Study is a study of a gauge at the desk: parts, and a master, read again and again round by round, so that each is put
// down and taken up between its readings. Its readings are kept one by one like those of an inspection, under the feature
// Master, with the part in the place of the flute and the trial in that of the repeat; the master is part 0.
type Study struct {
	Parts  int
	Trials int
	Master bool
}

// Key is which reading of a study a reading is. The master is part 0.
func (s Study) Key(part, trial int) inspect.Key {
	return inspect.Key{Feature: inspect.Master, Flute: part, Repeat: trial}
}

// groups are the rounds of a study.
func (s Study) groups() []group {
	var all []group
	for trial := 1; trial <= s.Trials; trial++ {
		g := group{round: trial, last: trial == s.Trials}
		for part := 1; part <= s.Parts; part++ {
			g.boxes = append(g.boxes, Question{Key: s.Key(part, trial)})
		}
		if s.Master {
			g.boxes = append(g.boxes, Question{Key: s.Key(0, trial)})
		}
		all = append(all, g)
	}
	return all
}

// named names a reading of a study.
func (s Study) named(k inspect.Key) string {
	part := fmt.Sprintf("part %d", k.Flute)
	if k.Flute == 0 {
		part = "master"
	}
	return fmt.Sprintf("%s, reading %d of %d", part, k.Repeat, s.Trials)
}

// studyPrompt is the screen of a question of a study.
func (d *Desk) studyPrompt(p *Prompt) {
	k := d.at.Key
	part, what := fmt.Sprintf("Part %d", k.Flute), "part"
	if k.Flute == 0 {
		part, what = "Master", "master"
	}
	p.Title, p.Flute = fmt.Sprintf("GAUGE STUDY, round %d of %d", k.Repeat, d.study.Trials), max(k.Flute, 1)
	p.Ask = part + ": what does it read?"
	p.Told = []Told{{"How", "take the " + what + " up anew for every reading, at the same marked place, as at the bench; do not look at what it read before."}}
	p.Table = Table{}
	p.Held = ""
}
