// Package terminal is the desk on a terminal: it draws prompts as lines, reads keys, and runs what the desk wants done.
// Nothing it writes moves the cursor or needs colour, so that a serial console or a screen reader can follow: a screen is as
// many lines as the terminal has, one after the other.
package terminal

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"flutelog/inspect/desk"
	"flutelog/inspect/text"
)

// A block is some lines of a screen that stand together.
type block struct {
	lines []string
	spare int // dropped first where the screen is too low, the highest first; 0 never
}

// Draw returns a prompt as a screen of at most height lines of at most width columns; the last line is what stands before
// what is typed. With room to spare it is filled up to height.
func Draw(p desk.Prompt, width, height int) []string {
	w := max(width-2, 20)
	body, shown := above(p, w)
	foot := below(p, w)
	label := p.Label
	if !p.Settled && p.Enters {
		label += " .."
	}
	last := strings.TrimLeft(label+" > ", " ")

	if p.Screen == desk.AnswerScreen && count(body)+count(foot) > height-1 {
		add(&body, 0, "  ..  w the whole route, d every figure")
	}
	fit(&body, &foot, height-1)
	for p.Screen == desk.AnswerScreen && count(body)+count(foot) > height-1 && len(body)-2 > shown {
		body = slices.Delete(body, len(body)-2, len(body)-1) // what an answer says is shown whole or not at all
	}
	lines := flat(body)
	under := flat(foot)
	for len(lines)+len(under) < height-1 {
		lines = append(lines, "")
	}
	lines = append(lines, under...)
	if room := height - 1; len(lines) > room {
		lines = append(lines[:max(room-len(under), 1)], under...)
	}
	lines = append(lines, last)
	for i, l := range lines {
		lines[i] = " " + l
		if i < len(lines)-1 {
			lines[i] = strings.TrimRight(lines[i], " ")
		}
	}
	return lines
}

// add puts lines behind blocks; none are no block.
func add(to *[]block, spare int, lines ...string) {
	if len(lines) > 0 {
		*to = append(*to, block{lines, spare})
	}
}

// above draws what stands over the line of cautions and keys. Shown is where the lines of an answer begin.
func above(p desk.Prompt, w int) (body []block, shown int) {
	gap := func(spare int) { add(&body, spare, "") }
	head := p.Tool
	if p.About != "" {
		head += "   " + p.About
	}
	right := p.Stage
	switch {
	case p.Screen == desk.ReadingsScreen:
		right += "  " + p.Title
	case p.Screen == desk.PlainScreen:
		right = p.Title
	case p.Screen != desk.AnswerScreen && p.Screen != desk.HelpScreen && p.At > 0:
		right += fmt.Sprintf("  feature %d of %d", p.At, p.Of)
	}
	add(&body, 0, sides(head, right, w)...)
	add(&body, 3, rule("-", w))
	switch p.Screen {
	case desk.SightsScreen:
		add(&body, 0, text.Wrap(p.Title, w, 0)...)
		gap(9)
		for _, s := range p.Sights {
			add(&body, 0, text.Wrap("  "+s, w, 21)...)
		}
		gap(9)
		add(&body, 6, text.Wrap(p.How, w, 0)...)
	case desk.ReadingsScreen:
		body = append(body, rows(p.Rows, w)...)
		gap(9)
	case desk.AnswerScreen:
		body = slices.Clone(body[:1])
		add(&body, 0, rule("=", w))
		add(&body, 0, text.Wrap(" "+strings.TrimLeft(p.Answer.Mark+" "+p.Answer.Headline, " "), w, 1)...)
		add(&body, 0, rule("=", w))
		shown = len(body)
		for _, l := range p.Answer.Lines {
			var lines []string
			for _, said := range l.Text {
				lines = append(lines, text.Wrap(said, w, 4)...)
			}
			add(&body, l.Spare, lines...)
		}
	case desk.PlainScreen:
		for _, l := range p.Lines {
			add(&body, 0, text.Wrap(l, w, 4)...)
		}
		gap(9)
		add(&body, 2, text.Wrap(p.Ask, w, 0)...)
	case desk.HelpScreen:
		add(&body, 0, p.Title)
		for _, k := range p.Keys {
			add(&body, 1, text.Wrap(fmt.Sprintf("  %-12s %s", k.Key, k.Does), w, 15)...)
		}
		for _, t := range p.Told {
			add(&body, 4, named(t, w)...)
		}
	default:
		if p.Title != "" {
			add(&body, 2, sides(p.Title, p.Held, w)...)
			gap(8)
		}
		add(&body, 0, big(p, w)...)
		gap(8)
	}
	for _, t := range p.Trouble {
		add(&body, 0, text.Wrap("!! "+t, w, 3)...)
	}
	if p.Screen == desk.ReadingScreen || p.Screen == desk.SightsScreen {
		for i, t := range p.Told {
			spare := 4
			if i == 0 || p.Screen == desk.SightsScreen {
				spare = 2
			}
			add(&body, spare, named(t, w)...)
		}
	}
	if len(p.Table.Lines) > 0 {
		gap(7)
		body = append(body, table(p.Table, w)...)
	}
	for _, n := range p.Notes {
		add(&body, 5, text.Wrap(n, w, 0)...)
	}
	if p.Shown != "" {
		add(&body, 0, "shows     "+p.Shown)
	}
	return body, shown
}

// below draws cautions, what was said, and the keys.
func below(p desk.Prompt, w int) (foot []block) {
	add(&foot, 3, rule("-", w))
	if len(p.Caution) > 0 {
		add(&foot, map[bool]int{true: 0, false: 2}[p.Screen == desk.AnswerScreen], text.Wrap("CAUTION  "+strings.Join(p.Caution, " "), w, 9)...)
	}
	if p.Said != "" || p.Gauge != "" {
		add(&foot, 1, sides(p.Said, p.Gauge, w)...)
	}
	if p.Refused != "" {
		add(&foot, 0, text.Wrap("-> "+p.Refused, w, 3)...)
	}
	if p.Screen == desk.SightsScreen {
		add(&foot, 0, text.Wrap("c  ALL CLEAR: "+strings.TrimPrefix(p.Keys[0].Does, "ALL CLEAR: "), w, 3)...)
		add(&foot, 1, keyLine(p.Keys[1:], w)...)
	} else if p.Screen != desk.HelpScreen {
		if p.Screen == desk.AnswerScreen || p.Screen == desk.ReadingsScreen {
			add(&foot, 0, text.Wrap(ask(p), w, 0)...)
		}
		spare := 1
		if p.Screen == desk.AnswerScreen {
			spare = 0
		}
		add(&foot, spare, keyLine(p.Keys, w)...)
	}
	return foot
}

// ask is the question where the screen above it is a table or an answer.
func ask(p desk.Prompt) string {
	if p.Screen == desk.AnswerScreen && p.Ask == p.Answer.Headline {
		return ""
	}
	return p.Ask
}

// fit drops what can be spared until the blocks have at most height lines.
func fit(body, foot *[]block, height int) {
	for count(*body)+count(*foot) > height {
		most := 0
		for _, b := range append(slices.Clone(*body), *foot...) {
			most = max(most, b.spare)
		}
		if most == 0 {
			return
		}
		drop := func(bs *[]block) bool {
			for i, b := range slices.Backward(*bs) {
				if b.spare == most {
					*bs = slices.Delete(*bs, i, i+1)
					return true
				}
			}
			return false
		}
		if !drop(body) {
			drop(foot)
		}
	}
}

func count(bs []block) int { return len(flat(bs)) }

func flat(bs []block) []string {
	var lines []string
	for _, b := range bs {
		lines = append(lines, b.lines...)
	}
	return lines
}

func rule(c string, w int) string { return strings.Repeat(c, w-1) }

// sides puts one text at each end of a line, or on two lines where they do not fit.
func sides(left, right string, w int) []string {
	if right == "" {
		return text.Wrap(left, w, 0)
	}
	if left == "" {
		return text.Wrap(right, w, 0)
	}
	if room := w - utf8.RuneCountInString(left) - utf8.RuneCountInString(right); room >= 2 {
		return []string{left + strings.Repeat(" ", room-1) + right}
	}
	return append(text.Wrap(left, w, 0), text.Wrap(right, w, 0)...)
}

// big draws the question large: the flute spaced out, then what is asked of it.
func big(p desk.Prompt, w int) []string {
	what, rest, ok := strings.Cut(p.Ask, ": ")
	if !ok || p.Flute == 0 {
		return text.Wrap("          "+p.Ask, w, 10)
	}
	var spaced strings.Builder
	for _, r := range strings.ToUpper(what) {
		spaced.WriteRune(r)
		spaced.WriteByte(' ')
	}
	line := strings.TrimRight(spaced.String(), " ")
	if p.Waiting != "" {
		rest = p.Waiting
	}
	if utf8.RuneCountInString(line)+utf8.RuneCountInString(rest)+14 <= w {
		return []string{"          " + line + "    " + rest}
	}
	return append(text.Wrap(line, w, 0), text.Wrap(rest, w, 0)...)
}

// table draws the readings of what is asked, a column a flute; where there are more than fit, only the lines that are asked
// now, in strips.
func table(t desk.Table, w int) []block {
	const cell = 8
	name := 9
	for _, l := range t.Lines {
		name = max(name, len(l.Name)+1)
	}
	room := max((w-name)/cell, 1)
	lines := t.Lines
	if len(t.Columns) > room {
		var now []desk.TableLine
		for _, l := range lines {
			if l.Now > 0 {
				now = append(now, l)
			}
		}
		lines = now
	}
	tails := len(t.Columns)*cell+name+14 <= w
	var out []block
	for from := 0; from < len(t.Columns); from += room {
		to := min(from+room, len(t.Columns))
		head := fmt.Sprintf("%-*s", name, t.Spots)
		for _, c := range t.Columns[from:to] {
			head += fmt.Sprintf("%*s", cell, c)
		}
		if tails && t.Tails != "" && slices.ContainsFunc(lines, func(l desk.TableLine) bool { return l.Tail != "" }) {
			head += "      " + t.Tails
		}
		out = append(out, block{[]string{head}, 0})
		for i, l := range lines {
			text := fmt.Sprintf("%-*s", name, l.Name)
			for n := from; n < to; n++ {
				c := ""
				if n < len(l.Cells) {
					c = l.Cells[n]
				}
				switch {
				case l.Now == n+1 && c == "":
					c = "______"
				case c == desk.LeftOutCell:
					c = "out"
				}
				text += fmt.Sprintf("%*s", cell, c)
			}
			if l.Tail != "" && tails {
				text += "      " + l.Tail
			}
			spare := 0
			if i < len(lines)-4 {
				spare = 1 // the first rounds of many
			}
			if l.Name == "" {
				spare = 3
			}
			if l.Name != "" || tails {
				out = append(out, block{[]string{text}, spare})
			}
		}
	}
	if !tails {
		said := ""
		for _, l := range t.Lines {
			if l.Name != "" && l.Tail != "" {
				said = strings.TrimLeft(t.Tails+" "+l.Tail+", "+l.Name, " ")
			} else if l.Tail != "" {
				said += "    " + l.Tail
			}
		}
		if said != "" {
			out = append(out, block{text.Wrap(strings.TrimSpace(said), w, 0), 0})
		}
	}
	return out
}

// rows draws all readings with their numbers.
func rows(rs []desk.Row, w int) []block {
	flutes := 0
	for _, r := range rs {
		flutes = max(flutes, len(r.Cells))
	}
	const name, part, cell = 14, 9, 8
	first := 3 + name + part
	var out []block
	head := fmt.Sprintf("%*s", first, "flute")
	for i := range flutes {
		if first+(i+1)*cell <= w {
			head += fmt.Sprintf("%*d", cell, i+1)
		}
	}
	if flutes > 1 {
		out = append(out, block{[]string{head}, 2})
	}
	for _, r := range rs {
		label := fmt.Sprintf("%-3d%-*s", r.Number, name, r.Name)
		if r.Part != "" || len(r.Cells) > 1 {
			label = fmt.Sprintf("%-*s", first, fmt.Sprintf("%-*s", 3+name, strings.TrimRight(label, " ")+" ")+r.Part)
		}
		lines := []string{label}
		if len(r.Cells) == 1 {
			lines = text.Wrap(label+fmt.Sprintf("%*s", cell, r.Cells[0]), w, 3+name)
			if r.Part == "" {
				lines = text.Wrap(label+"  "+r.Cells[0], w, 3+name)
			}
		} else {
			for _, c := range r.Cells {
				switch c {
				case "":
					c = "-"
				case desk.LeftOutCell:
					c = "out" // the whole word fills its cell
				}
				if i := len(lines) - 1; utf8.RuneCountInString(lines[i])+cell > w {
					lines = append(lines, strings.Repeat(" ", first))
				}
				lines[len(lines)-1] += fmt.Sprintf("%*s", cell, c)
			}
			if i := len(lines) - 1; r.Tail != "" && utf8.RuneCountInString(lines[i])+3+len(r.Tail) <= w {
				lines[i] += "   " + r.Tail
			}
		}
		out = append(out, block{lines, 0})
	}
	return out
}

// keyLine lists keys on as few lines as they take.
func keyLine(keys []desk.KeyHelp, w int) []string {
	var lines []string
	line := ""
	for _, k := range keys {
		text := k.Key + " " + k.Does
		if line != "" && utf8.RuneCountInString(line)+3+utf8.RuneCountInString(text) > w {
			lines, line = append(lines, line), ""
		}
		if line != "" {
			line += "   "
		}
		line += text
	}
	if line != "" {
		lines = append(lines, line)
	}
	var wrapped []string
	for _, l := range lines {
		wrapped = append(wrapped, text.Wrap(l, w, 0)...)
	}
	return wrapped
}

// named is what is told after a word that says what of.
func named(t desk.Told, w int) []string {
	column := max(10, len(t.Name)+1)
	return text.Wrap(fmt.Sprintf("%-*s%s", column, t.Name, t.Text), w, column)
}
