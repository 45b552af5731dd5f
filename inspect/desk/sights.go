package desk

import (
	"fmt"
	"slices"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/words"
)

// sights takes the answer to all that is looked for: the numbers seen, or c for none of them.
func (d *Desk) sights(l Line, text string) []Effect {
	word, rest, _ := strings.Cut(text, " ")
	switch lower := strings.ToLower(word); {
	case text == "":
		if d.sightsDealt() {
			d.goOn()
			return d.tell("kept as it was")
		}
		return d.refuse("Not taken: Enter alone. No to all is c: it says that you looked for crack and burn, and the others.")
	case lower == "c" && rest == "":
		return d.see(l, nil)
	case lower == "u":
		seen, refusal := d.parseSights(rest, true)
		if refusal != nil {
			return refusal
		}
		for i := range seen {
			seen[i].unsure = true
		}
		return d.see(l, seen)
	case lower[0] >= '0' && lower[0] <= '9':
		seen, refusal := d.parseSights(text, false)
		if refusal != nil {
			return refusal
		}
		return d.see(l, seen)
	}
	if effects, done := d.common(l, text); done {
		return effects
	}
	return d.refuse("No to all is c: it says that you looked for crack and burn. Else the numbers that you see, as 5 or 4 .015")
}

func (d *Desk) sightsDealt() bool {
	return !slices.ContainsFunc(inspect.Sights, func(s inspect.Sight) bool { return !d.read(Question{Sight: s}) })
}

// look is one thing seen, with what was told of it.
type look struct {
	n      int
	size   *length.Typed
	flute  int
	note   string
	unsure bool
}

// parseSights reads numbers of sights, each with a length, a flute and a note where there is one: 5, 4 .015, 1 f2 dark
// line. A word begins the note, which goes to the end or to a semicolon.
func (d *Desk) parseSights(text string, unsure bool) ([]look, []Effect) {
	all := words.SightsAsked()
	var seen []look
	for _, part := range strings.Split(text, ";") {
		fields := strings.Fields(part)
		for i := 0; i < len(fields); i++ {
			field := fields[i]
			if n := int(field[0] - '0'); len(field) == 1 && n >= 1 && n <= len(all) {
				if slices.ContainsFunc(seen, func(s look) bool { return s.n == n }) {
					return nil, d.refuse("%d %s is there twice. Type it once.", n, all[n-1].Name)
				}
				seen = append(seen, look{n: n})
				continue
			}
			if len(seen) == 0 {
				return nil, d.refuse("The number of what you see comes first, 1 to %d, as 5 or 4 .015", len(all))
			}
			last := &seen[len(seen)-1]
			var flute int
			if n, err := fmt.Sscanf(strings.ToLower(field), "f%d", &flute); err == nil && n == 1 {
				if flute < 1 || flute > d.tool().Flutes {
					return nil, d.refuse("%s: this tool has flutes 1 to %d.", field, d.tool().Flutes)
				}
				last.flute = flute
				continue
			}
			if startsNumber(field) {
				if i+1 < len(fields) && length.Unit(strings.ToLower(fields[i+1])) != "" {
					if _, err := length.ParseUnit(fields[i+1]); err == nil {
						field, i = field+fields[i+1], i+1
					}
				}
				size, err := d.entry(inspect.WearLand).Parse(field)
				if err != nil {
					return nil, d.slip(err)
				}
				if size.Whole && size.Bare {
					return nil, d.refuse("%s: no such number here, 1 to %d. A length wants its point, as 4 .015", field, len(all))
				}
				if size.Value <= 0 || size.Value >= d.tool().Diameter*4 {
					return nil, d.refuse("A chip of %s on this tool? Type its length, as 4 .015", field)
				}
				last.size = &size
				continue
			}
			last.note = strings.Join(fields[i:], " ")
			break
		}
	}
	for _, s := range seen {
		switch sight := inspect.Sights[s.n-1]; {
		case sight.Chip() && s.size == nil && unsure: // how long it is, is not known either
		case sight.Chip() && s.size == nil && sight == inspect.ChippedCorner:
			return nil, d.refuse("How far up? %d .015", s.n)
		case sight.Chip() && s.size == nil:
			return nil, d.refuse("How long along the edge? %d .015", s.n)
		case !sight.Chip() && s.size != nil:
			return nil, d.refuse("Only a chip has a length. A note goes behind: %d f2 dark line", s.n)
		}
	}
	if len(seen) == 0 {
		return nil, d.refuse("Unsure of what? u and its number, as u 1")
	}
	return seen, nil
}

// see keeps the answer to all sights: what is not named was looked for and not seen. What locks the tool is locked, then kept,
// before anything else is drawn.
func (d *Desk) see(l Line, seen []look) []Effect {
	var effects []Effect
	var names []string
	for i, sight := range inspect.Sights {
		s := inspect.Seen{Sight: sight}
		if at := slices.IndexFunc(seen, func(s look) bool { return s.n == i+1 }); at >= 0 {
			s = d.seenOf(sight, seen[at])
			name := words.SightsAsked()[i].Name
			if s.Unsure {
				name += " (not sure)"
			}
			names = append(names, name)
		}
		keep := Keep{What: Saw, Seen: &s, At: d.now, By: l.By}
		if s.Yes && d.locks(sight) {
			effects = append([]Effect{Lock{Seen: s, At: d.now, By: l.By}, keep}, effects...)
			continue
		}
		effects = append(effects, keep)
	}
	if seen == nil {
		d.tell("taken: all clear, %d looked for", len(inspect.Sights))
	} else {
		d.tell("taken: %s; the others looked for and not seen", strings.Join(names, ", "))
	}
	return append(effects, Ring{})
}

func (d *Desk) seenOf(sight inspect.Sight, s look) inspect.Seen {
	seen := inspect.Seen{Sight: sight, Yes: true, Unsure: s.unsure, Flute: s.flute, Note: s.note}
	if s.size != nil {
		seen.Length = &s.size.Value
	}
	return seen
}
