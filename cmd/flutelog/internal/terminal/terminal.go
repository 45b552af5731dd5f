package terminal

import (
	"context"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"golang.org/x/term"

	"flutelog/inspect/desk"
	"flutelog/inspect/text"
)

// Conversation is what a terminal shows and types at.
type Conversation interface {
	Do(desk.Event)
	Prompt() desk.Prompt
	Done() <-chan struct{}
	Shows() []desk.Shows
}

// Terminal is a person's terminal, or a pipe in its place.
type Terminal struct {
	In   io.Reader
	Out  io.Writer
	Now  func() time.Time
	Size func() (columns, rows int)     // nil: of Out, or 80 x 24
	Show func(desk.Shows) (text string) // what a person asks to be shown beside the conversation; it is paged

	keys *keyboard
	mu   sync.Mutex // over what follows and over Out
	line string     // what is typed of the next line
	last string     // what was drawn last, without what is typed
	hide bool       // what is typed is not shown
	page []string   // what is left of what is shown
}

const bell = "\a"

// Open takes the terminal. The caller closes it.
func (t *Terminal) Open() {
	t.keys = newKeyboard(t.In, func(s string) {
		t.mu.Lock()
		defer t.mu.Unlock()
		io.WriteString(t.Out, s)
	}, func() bool {
		t.mu.Lock()
		defer t.mu.Unlock()
		return t.hide
	})
}

// Close gives the terminal back.
func (t *Terminal) Close() {
	if t.keys != nil {
		t.keys.restore()
	}
}

// Tell says something outside a conversation.
func (t *Terminal) Tell(format string, args ...any) {
	t.mu.Lock()
	defer t.mu.Unlock()
	text := fmt.Sprintf(format, args...)
	if t.keys == nil {
		io.WriteString(t.Out, text)
		return
	}
	t.print(text)
}

// Raw says whether a person types key by key: then screens are drawn whole.
func (t *Terminal) Raw() bool { return t.keys != nil && t.keys.raw }

// Run shows a conversation until it is over, or ctx ends. changed tells that something may have to be drawn again.
func (t *Terminal) Run(ctx context.Context, c Conversation, changed <-chan struct{}) {
	t.draw(c, false)
	for {
		select {
		case <-ctx.Done():
			c.Do(desk.Key{At: t.Now(), Key: desk.Interrupt})
			return
		case <-c.Done():
			refused := c.Prompt().Refused // why it ended, where nobody here ended it
			columns, _ := t.size()
			t.mu.Lock()
			if refused != "" {
				t.print("\n" + bell + bell + strings.Join(text.Wrap("-> "+refused, columns-1, 3), "\n"))
			}
			t.print("\n")
			t.mu.Unlock()
			return
		case <-changed:
			t.draw(c, false)
		case k := <-t.keys.came:
			t.mu.Lock()
			t.line = ""
			if k.pending {
				t.line = k.line
			}
			paging := t.page != nil
			t.mu.Unlock()
			switch {
			case k.pending:
				continue
			case paging && k.key == "":
				if strings.EqualFold(strings.TrimSpace(k.line), "q") {
					t.mu.Lock()
					t.page = t.page[:0] // no more of it
					t.mu.Unlock()
				}
				t.turn(c)
			case k.key != "":
				c.Do(desk.Key{At: t.Now(), Key: k.key})
				t.draw(c, true)
			default:
				c.Do(desk.Line{At: t.Now(), Text: k.line})
				t.draw(c, true)
			}
		}
	}
}

// print writes text; a terminal in raw mode wants carriage returns. The caller holds the mutex.
func (t *Terminal) print(text string) {
	if t.keys.raw {
		text = strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\n", "\r\n")
	}
	io.WriteString(t.Out, text)
}

func (t *Terminal) size() (columns, rows int) {
	if t.Size != nil {
		return t.Size()
	}
	if f, ok := t.Out.(*os.File); ok {
		if columns, rows, err := term.GetSize(int(f.Fd())); err == nil && columns > 0 && rows > 0 {
			return columns, rows
		}
	}
	return 80, 24
}

// draw shows what is asked now, unless it stands there already. answered: something was typed, so it is shown in any case.
func (t *Terminal) draw(c Conversation, answered bool) {
	for _, s := range c.Shows() {
		if t.Show != nil {
			t.show(t.Show(s))
		}
	}
	p := c.Prompt()
	t.mu.Lock()
	defer t.mu.Unlock()
	t.hide = p.Secret
	if t.page != nil {
		return
	}
	select {
	case <-c.Done():
		return
	default:
	}
	columns, rows := t.size()
	var text string
	if t.keys.raw {
		text = strings.Join(Draw(p, columns, max(rows, 12)), "\n")
	} else {
		text = strings.Join(brief(p, columns), "\n")
	}
	if text == "" || text == t.last && !answered {
		return
	}
	ring := ""
	switch {
	case p.Refused != "" || len(p.Trouble) > 0:
		ring = bell + bell
	case strings.HasPrefix(p.Said, "taken"):
		ring = bell
	}
	if text == t.last {
		ring = ""
	}
	t.last = text
	shown := t.line
	if t.hide {
		shown = strings.Repeat("*", utf8.RuneCountInString(t.line))
	}
	t.print("\n" + ring + text + shown)
}

// brief is a prompt for a pipe or a reader of lines: what was said, what is asked, and nothing that stays the same.
func brief(p desk.Prompt, width int) []string {
	if p.Screen == desk.ClosingScreen {
		return nil
	}
	var lines []string
	add := func(said string) { lines = append(lines, text.Wrap(said, width-1, 0)...) }
	for _, text := range append([]string{p.Said}, p.Trouble...) {
		if text != "" {
			add(text)
		}
	}
	if p.Refused != "" {
		add("NOT TAKEN: " + p.Refused)
	}
	if len(p.Caution) > 0 {
		add("CAUTION  " + strings.Join(p.Caution, " "))
	}
	switch p.Screen {
	case desk.SightsScreen:
		add(p.Title)
		for _, s := range p.Sights {
			add("  " + s)
		}
		add("c: all clear")
	case desk.ReadingsScreen:
		for _, b := range rows(p.Rows, width-1) {
			lines = append(lines, b.lines...)
		}
		for _, n := range p.Notes {
			add(n)
		}
		add(p.Ask + " Enter closes.")
	case desk.PlainScreen:
		for _, l := range p.Lines {
			if asked, ok := strings.CutSuffix(l, "_"); ok {
				add(strings.TrimSpace(asked))
			}
		}
		add(p.Ask)
	case desk.HelpScreen:
		for _, k := range p.Keys {
			add(fmt.Sprintf("%-12s %s", k.Key, k.Does))
		}
	case desk.AnswerScreen:
		add(strings.TrimLeft(p.Answer.Mark+" "+p.Answer.Headline, " "))
		if p.Ask != p.Answer.Headline {
			add(p.Ask)
		}
	default:
		for _, n := range p.Notes {
			add(n)
		}
		add(p.Ask)
		for _, told := range p.Told {
			if told.Name == "Stands" || told.Name == "Expect" {
				add(told.Name + ": " + told.Text)
			}
		}
	}
	return append(lines, strings.TrimLeft(p.Label+" > ", " "))
}

// newPage, alone on a line of what is shown, begins a new page.
const newPage = "\f"

// show begins to page a text.
func (t *Terminal) show(shown string) {
	if shown == "" {
		return
	}
	columns, _ := t.size()
	var lines []string
	for line := range strings.Lines(shown) {
		line = strings.TrimRight(line, "\r\n")
		if line == "" || line == newPage {
			lines = append(lines, line)
			continue
		}
		hang := len(line) - len(strings.TrimLeft(line, " "))
		lines = append(lines, text.Wrap(line, columns-1, hang)...)
	}
	t.mu.Lock()
	t.page = lines
	t.mu.Unlock()
	t.turn(nil)
}

// turn shows the next page of what is shown; behind the last the conversation stands again.
func (t *Terminal) turn(c Conversation) {
	t.mu.Lock()
	_, rows := t.size()
	n := min(len(t.page), max(rows-2, 5))
	if !t.keys.raw {
		n = len(t.page)
	} else if at := slices.Index(t.page[:n], newPage); at >= 0 {
		n = at + 1
	}
	if n > 0 {
		page := slices.DeleteFunc(slices.Clone(t.page[:n]), func(line string) bool { return line == newPage })
		if t.keys.raw {
			page = append(slices.Repeat([]string{""}, max(rows-1-len(page), 0)), page...) // what stood before is out of sight
		}
		t.print("\n" + strings.Join(page, "\n") + "\n")
	}
	t.page = t.page[n:]
	if len(t.page) > 0 {
		t.print("Enter: more   q back > ")
		t.mu.Unlock()
		return
	}
	if n > 0 && t.keys.raw {
		t.page = []string{}
		t.print("Enter: back > ")
		t.mu.Unlock()
		return
	}
	t.page = nil
	t.last = ""
	t.mu.Unlock()
	if c != nil {
		t.draw(c, true)
	}
}
