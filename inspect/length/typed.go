package length

import (
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// Entry says how a length is read that a person typed: at a prompt, in a flag, a form, a table or a bench file.
// It takes what a tool room types: .0005, 0.5", 13/32in, 1 1/2, ½, 3t, 3tenths, 12.7um, and 0,01 where the unit
// is metric. The zero Entry wants a unit with every number.
type Entry struct {
	Unit     Unit   // of bare numbers; None refuses them
	Division Length // one division of the dial or loupe in use; 0 is not stated
	Whole    bool   // bare whole numbers are divisions
}

// Typed is a length as it was typed.
type Typed struct {
	Value Length
	Unit  Unit   // that Text is in
	Text  string // the number in decimals: as typed, or what a fraction or divisions come to
	Bare  bool   // no unit was typed
	Whole bool   // a whole number without a point, and no divisions
}

// Slip is something typed that is not taken as it is: what is wrong with it, in the words of the shop, and what
// would do.
type Slip struct {
	Typed string // what was typed
	Why   string // what it would mean, and what would do
	Meant *Typed // what it most likely means, to be taken on a yes; nil where it has to be typed again
}

// Error returns what was typed with why it is not taken.
func (s *Slip) Error() string { return fmt.Sprintf("%q: %s", s.Typed, s.Why) }

// Units in which divisions and the doubtful mil are typed; no length is kept in them.
const (
	divisions Unit = "div"
	mils      Unit = "mil"
)

var unitWords = map[string]Unit{
	"in": In, "in.": In, "inch": In, "inches": In, `"`: In,
	"mm": Mm, "mm.": Mm, "millimetre": Mm, "millimetres": Mm, "millimeter": Mm, "millimeters": Mm,
	"um": Um, "micron": Um, "microns": Um, "micrometre": Um, "micrometres": Um, "micrometer": Um, "micrometers": Um,
	"thou": Thous, "thous": Thous, "t": Tenths, "tenth": Tenths, "tenths": Tenths,
	"d": divisions, "div": divisions, "divs": divisions, "division": divisions, "divisions": divisions, "mil": mils, "mils": mils,
}

// signs are other ways to write what stands in a length.
var signs = strings.NewReplacer(
	"−", "-", "–", "-", "—", "-", "﹣", "-", "－", "-", "＋", "+",
	"″", `"`, "”", `"`, "“", `"`, "˝", `"`, "''", `"`, "µ", "u", "μ", "u",
	"\u00a0", " ", "\u2009", " ", "\u202f", " ", "⁄", "/",
	"½", " 1/2", "¼", " 1/4", "¾", " 3/4", "⅛", " 1/8", "⅜", " 3/8", "⅝", " 5/8", "⅞", " 7/8",
)

var (
	decimalForm  = regexp.MustCompile(`^([+-]?) *([0-9]*[.,]?[0-9]*) *([^0-9.,/ ].*)?$`)
	fractionForm = regexp.MustCompile(`^([+-]?) *(?:([0-9]+)(?: +|-))?([0-9]+) */ *([0-9]+) *([^0-9.,/ ].*)?$`)
	mistakenForm = regexp.MustCompile(`^([+-]?) *([0-9.lIOo]*[0-9][0-9.lIOo]*) *([A-Za-z"]*)$`)
)

// Parse reads one length. What cannot be taken comes back as a *Slip.
func (e Entry) Parse(s string) (Typed, error) {
	text := strings.Join(strings.Fields(signs.Replace(s)), " ")
	t := Typed{Unit: e.Unit}
	slip := func(format string, args ...any) (Typed, error) {
		return Typed{}, &Slip{Typed: strings.TrimSpace(s), Why: fmt.Sprintf(format, args...)}
	}
	var sign, number, word string
	var whole, over, under uint64
	fraction := fractionForm.FindStringSubmatch(text)
	if fraction != nil {
		sign, word = fraction[1], fraction[5]
		var errs [3]error
		whole, errs[0] = strconv.ParseUint("0"+fraction[2], 10, 32)
		over, errs[1] = strconv.ParseUint(fraction[3], 10, 32)
		under, errs[2] = strconv.ParseUint(fraction[4], 10, 32)
		if errors.Join(errs[:]...) != nil || under == 0 {
			return slip("that is no fraction of an inch")
		}
	} else if m := decimalForm.FindStringSubmatch(text); m != nil && strings.Trim(m[2], ".,") != "" {
		sign, number, word = m[1], m[2], m[3]
	} else {
		return slip("%s", whyNoLength(text))
	}
	t.Bare = word == ""
	if !t.Bare {
		if t.Unit = unitWords[strings.ToLower(word)]; t.Unit == None {
			return slip("%s", whyNoUnit(text, word))
		}
	}
	metric := t.Unit.Metric() || t.Unit == None && e.Unit.Metric()
	switch {
	case t.Unit == None:
		return slip("no unit; write it with %s", unitNames)
	case t.Unit == mils:
		return slip("mil: a thou or a millimetre? Write %sthou or %smm", number, number)
	case t.Unit == Tenths && e.Unit.Metric():
		v, err := scaled(sign+number, uint64(Tenth))
		if fraction != nil || err != nil {
			return slip("tenths are of a thou, an inch word; write it in %s", e.Unit)
		}
		return slip("tenths are of a thou, an inch word. Here it is %s", Length(v).Format(e.Unit, 3))
	case t.Unit == divisions && (fraction != nil || strings.ContainsAny(number, ".,")):
		return slip("whole divisions; between two lines write the length")
	case t.Unit == divisions && e.Division == 0:
		return slip("the step of this dial is not stated, so divisions say no length; write the length")
	case fraction != nil && metric:
		return slip("a fraction is of an inch, and the unit here is %s. Write %s%s for it, or %s", t.Unit, text, `"`, t.Unit)
	case fraction != nil && t.Unit != In:
		return slip("a fraction is of an inch; write %s in decimals", t.Unit)
	}
	if fraction != nil {
		pm := uint64(Inch) * over
		if over > 10_000 || pm%under != 0 {
			return slip("fractions of an inch go in halves, quarters, down to 1/512; write a decimal")
		}
		if whole > 1000 {
			return slip("too large")
		}
		v := Length(whole)*Inch + Length(pm/under)
		if sign == "-" {
			v = -v
		}
		t.Value, t.Text = v, exact(v, In)
		return t, nil
	}
	comma := strings.Contains(number, ",")
	metric = e.Unit.Metric() || e.Unit == None && t.Unit.Metric()
	plain := strings.Replace(number, ",", ".", 1)
	size := t.Unit.Size()
	if t.Unit == divisions || e.Whole && e.Division > 0 && t.Bare && !strings.ContainsAny(number, ".,") {
		size, t.Unit = e.Division, e.Unit
		if t.Unit == None {
			t.Unit = In
		}
		v, err := scaled(sign+number, uint64(size))
		if err != nil {
			return slip("too large")
		}
		t.Value, t.Text = Length(v), Length(v).Format(t.Unit, decimalsFor(e.Division, t.Unit))
		return t, nil
	}
	v, err := scaled(sign+plain, uint64(size))
	switch {
	case errors.Is(err, errTooFine):
		return slip("finer than a picometre")
	case err != nil:
		return slip("%v", err)
	}
	t.Value, t.Text = Length(v), strings.TrimPrefix(sign, "+")+plain
	t.Whole = !strings.ContainsAny(number, ".,")
	before, after, _ := strings.Cut(number, ",")
	if comma && (!metric || len(after) == 3 && strings.Trim(before, "0") != "") {
		why := fmt.Sprintf("a comma in inches: %s %s?", t.Text, t.Unit)
		switch {
		case t.Unit.Metric() && !metric:
			why = fmt.Sprintf("a comma, and %s is the unit here: %s %s?", e.Unit, t.Text, t.Unit)
		case metric:
			why = fmt.Sprintf("%s %s, or %s%s %s?", t.Text, t.Unit, before, after, t.Unit)
		}
		meant := t
		return Typed{}, &Slip{Typed: strings.TrimSpace(s), Why: why + " Write it with a point, or without the comma", Meant: &meant}
	}
	return t, nil
}

// exact returns l in u with as many decimals as it has, nine at most.
func exact(l Length, u Unit) string {
	return strings.TrimSuffix(strings.TrimRight(l.Format(u, 9), "0"), ".")
}

// decimalsFor returns how many decimals show a division in full.
func decimalsFor(division Length, u Unit) int {
	_, decimals, _ := strings.Cut(exact(division, u), ".")
	return len(decimals)
}

var ordinals = []string{"first", "second", "third", "fourth", "fifth", "sixth"}

// whyMistaken says which letter was typed in place of a digit; "" for none.
func whyMistaken(text string) string {
	m := mistakenForm.FindStringSubmatch(text)
	if m == nil {
		return ""
	}
	if i := strings.IndexAny(m[2], "lIOo"); i >= 0 {
		meant := strings.NewReplacer("l", "1", "I", "1", "O", "0", "o", "0").Replace(m[2])
		if m[2][i] == 'O' || m[2][i] == 'o' {
			return "letter O for nought. Type it again: " + meant
		}
		at := "one sign"
		if point := strings.IndexByte(m[2], '.'); point >= 0 && i > point && i-point <= len(ordinals) {
			at = "the " + ordinals[i-point-1] + " sign after the point"
		}
		return fmt.Sprintf("%s is a letter %c. %s? Type it again", at, m[2][i], meant)
	}
	return ""
}

// whyNoLength says what is wrong with text that has not the form of a length.
func whyNoLength(text string) string {
	digits := strings.ContainsAny(text, "0123456789")
	mistaken := whyMistaken(text)
	bare := strings.TrimLeft(text, "+- ")
	switch {
	case mistaken != "":
		return mistaken
	case text == "":
		return "nothing was typed"
	case strings.Count(text[:len(text)-len(bare)], "-") > 1:
		return "two minus signs"
	case len(text)-len(strings.TrimLeft(text, "+-")) > 1:
		return "two signs"
	case !digits:
		return "a number is asked here"
	case strings.Contains(text, "/"):
		return "that is no fraction of an inch; write it as 13/32 or 1 1/2"
	case strings.Count(text, ".") > 1 && strings.Contains(text, ",") && strings.Trim(text, "0123456789.,+-") == "":
		return "several numbers with commas between, and one is asked; where several are, put a space between: " + strings.ReplaceAll(text, ",", " ")
	case strings.Count(text, ".") > 1 && !strings.Contains(text, " "):
		return "more than one decimal point"
	case strings.ContainsAny(text, ".,") && strings.Contains(text, ",") && strings.Contains(text, "."):
		return "a point and a comma; write one point"
	}
	return "more than one number"
}

// whyNoUnit says what is wrong with what stands behind a number.
func whyNoUnit(text, word string) string {
	mistaken := whyMistaken(text)
	switch first := word[0]; {
	case mistaken != "":
		return mistaken
	case (first == 'e' || first == 'E') && len(word) > 1 && strings.ContainsAny(word, "0123456789"):
		return "exponents are not taken; write the number out"
	case strings.ContainsAny(word, "0123456789"):
		letters := word[:strings.IndexAny(word, "0123456789")]
		if _, err := ParseUnit(letters); err == nil || strings.ContainsAny(text, " +-") {
			return "more than one number"
		}
		return fmt.Sprintf("%q stands in the number; write digits with one point, as .011", letters)
	}
	return fmt.Sprintf("%q is no unit known here; write %s", word, unitNames)
}
