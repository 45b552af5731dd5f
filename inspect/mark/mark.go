// Package mark is the one table of marks: a shape for each verdict, standing and state, the same on page, on paper and
// at the terminal. A mark never stands without its word.
//
// What stops is solid with corners; released is the only solid disc; work at the grinder is a triangle; what waits
// for an eye is a ring. Characters are one cell wide, and none turns into a picture letter.
package mark

// A Mark is one shape in its three forms.
type Mark struct {
	Name string
	Char string // for a terminal that shows it; put a space after
	Bare string // for one that shows ASCII only
	Says string // what it stands for
	path string // the shape, in a square of 24
}

// SVG returns the mark as an inline SVG in the colour of the letters around it. It is hidden from a screen reader,
// for the word stands beside it. Style is how it looks.
func (m Mark) SVG() HTML {
	if m.path == "" {
		return ""
	}
	return HTML(`<svg class="mark" viewBox="0 0 24 24" aria-hidden="true">` + m.path + `</svg>`)
}

// Shape returns the inside of the SVG, in a square of 24, for a drawing that places it.
func (m Mark) Shape() string { return m.path }

// Style is how marks look. A document that holds marks puts it into its style element once.
const Style = `.mark { width: 1.3em; height: 1.3em; flex: none; fill: none; stroke: currentColor; stroke-width: 2.5; stroke-linejoin: round; stroke-linecap: square; vertical-align: -0.3em; overflow: visible; }
.mark .solid { fill: currentColor; stroke: none; }
`

// The marks.
var (
	Accept    = Mark{"accept", "✓", "ok", "verdict: the figure conforms", `<path d="M4 13l5.5 5.5L20 6"/>`}
	Reject    = Mark{"reject", "✗", "NO", "verdict: the figure does not conform", `<path d="M5 5l14 14M19 5L5 19"/>`}
	Undecided = Mark{"undecided", "◇", "?", "verdict: inside the guard band", `<path d="M12 2.5l9.5 9.5-9.5 9.5L2.5 12zM8 12h8"/>`}
	NotJudged = Mark{"unjudged", "○", "o", "verdict: read, too little to judge", `<circle cx="12" cy="12" r="9"/>`}
	Unread    = Mark{"unread", "□", "[ ]", "required, not read or not looked at", `<path d="M4 4h16v16H4z"/>`}
	Received  = Mark{"received", "▽", "v", "standing: came in, nothing read", `<path d="M3 5h18l-9 15z"/>`}
	Half      = Mark{"half", "◐", "(|", "an inspection begun and not closed", `<circle cx="12" cy="12" r="9"/><path class="solid" d="M12 3a9 9 0 0 0 0 18z"/>`}
	ToGrind   = Mark{"grind", "△", "^", "standing: to grind", `<path d="M12 4l9 15H3z"/>`}
	ToFinish  = Mark{"finish", "◭", "/|", "standing: primary ground, tool still held, to finish", `<path d="M12 4l9 15H3z"/><path class="solid" d="M12 4v15H3z"/>`}
	ToInspect = Mark{"inspect", "⊕", "(+)", "standing: ground, to inspect", `<circle cx="12" cy="12" r="8"/><path d="M12 1v22M1 12h22"/>`}
	ToSign    = Mark{"sign", "✎", "s_", "standing: all read and conforming, to sign", `<path d="M4 18l1-4.5L15.5 4l4 4L9 18.5zM12 21.5h9"/>`}
	Released  = Mark{"released", "●", "(*)", "standing: released, signed", `<path class="solid" fill-rule="evenodd" d="M12 1a11 11 0 1 0 0 22 11 11 0 0 0 0-22zM5.8 12.8l2.2-2.2 2.9 2.9 5.6-5.8 2.2 2.2-7.8 8.1z"/>`}
	Conceded  = Mark{"conceded", "§", "S", "standing: usable on a condition, which is written beside it", `<path stroke-width="2.2" stroke-linecap="butt" d="M17.4 6.6C17.2 3.6 15 1.8 12 1.8c-3.1 0-5.2 1.6-5.2 4.1C6.8 10.3 17.4 10.3 17.4 15c0 1.4-.8 2.5-2.2 3M6.6 17.4c.2 3 2.4 4.8 5.4 4.8 3.1 0 5.2-1.6 5.2-4.1C17.2 13.7 6.6 13.7 6.6 9c0-1.400.8-2.5 2.2-3"/>`}
	Locked    = Mark{"locked", "■", "[#]", "standing: locked, a crack (or a burn between or after) was seen", `<path class="solid" fill-rule="evenodd" d="M2 2h20v20H2zM12 6a3.5 3.5 0 0 0-1.7 6.5L9 18h6l-1.3-5.5A3.5 3.5 0 0 0 12 6z"/>`}
	Recalled  = Mark{"recalled", "◄", "<<", "standing: recalled, it is out and must come back", `<path class="solid" d="M1 12L11 2v5.5h12v9H11V22z"/>`}
	Withdrawn = Mark{"withdrawn", "▬", "==", "standing: withdrawn, for ever", `<path class="solid" fill-rule="evenodd" d="M0 6h24v12H0zM12 13.7L14.4 16.1L16.1 14.4L13.7 12L16.1 9.6L14.4 7.9L12 10.3L9.6 7.9L7.9 9.6L10.3 12L7.9 14.4L9.6 16.1Z"/>`}
	Retired   = Mark{"retired", "◌", "..", "standing: retired, out of use", `<circle cx="12" cy="12" r="9.5" stroke-linecap="butt" stroke-dasharray="3.5 3.96"/>`}
	Invented  = Mark{"invented", "▨", "//", "read with a practice gauge: stands nowhere", `<path d="M3 3h18v18H3zM3 12l9-9M3 20L20 3M12 21l9-9"/>`}
	Corrected = Mark{"corrected", "†", "+", "a value that was corrected; who and why follow", `<path d="M12 2.5v19M6.5 8h11"/>`}
	Due       = Mark{"due", "◷", "t", "a gauge whose calibration is due", `<circle cx="12" cy="12" r="9"/><path d="M12 3v9h9"/>`}
	Trouble   = Mark{"trouble", "!", "!", "something a person must see to before going on", `<path d="M12 3v11.5M12 18.5v3"/>`}
	Now       = Mark{"now", "►", ">", "now: how large a tool is, on its life; what is asked", `<path class="solid" d="M5 2.5L21 12 5 21.5z"/>`}
	Next      = Mark{"next", "→", "->", "the next step", `<path d="M3 12h17M13 5l7 7-7 7"/>`}
)

// All are the marks in the order in which they are explained.
var All = []Mark{
	Accept,
	Reject,
	Undecided,
	NotJudged,
	Unread,
	Received,
	Half,
	ToGrind,
	ToFinish,
	ToInspect,
	ToSign,
	Released,
	Conceded,
	Locked,
	Recalled,
	Withdrawn,
	Retired,
	Invented,
	Corrected,
	Due,
	Trouble,
	Now,
	Next,
}
