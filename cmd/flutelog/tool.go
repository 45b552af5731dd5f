package main

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/session"
	"flutelog/inspect/words"
)

// toolFlags are the flags that describe a tool.
type toolFlags struct {
	places
	units
	diameter, helix, hand, angles, material, ends, teeth, duty string
	primary, secondary, rake, note                             string
	flutes                                                     int
}

func (t *toolFlags) flags(f *flags) {
	f.StringVar(&t.diameter, "diameter", "", "nominal cutting diameter, such as 0.5in or 12mm")
	f.IntVar(&t.flutes, "flutes", 0, "number of flutes, 2 to 12")
	f.StringVar(&t.material, "material", "", "hss, cobalt or carbide")
	f.StringVar(&t.helix, "helix", "", "helix angle in degrees (default 30)")
	f.StringVar(&t.hand, "hand", "", "hand of the helix, right or left (default right)")
	f.StringVar(&t.angles, "angles", "", "angle of each flute in degrees when they are not equally spaced: 0,88,180,268")
	f.StringVar(&t.ends, "ends", "", "square, chamfered, radius or ball (default square)")
	f.StringVar(&t.teeth, "teeth", "", "plain or chip-breaker (default plain)")
	f.StringVar(&t.duty, "duty", "", "finishing or roughing (default finishing)")
	f.StringVar(&t.primary, "primary-relief", "", "nominal primary relief in degrees, where it is known")
	f.StringVar(&t.secondary, "secondary-relief", "", "nominal secondary relief in degrees")
	f.StringVar(&t.rake, "rake", "", "radial rake in degrees")
	f.StringVar(&t.note, "note", "", "anything worth knowing")
	t.places.flags(f)
	t.units.flags(f)
}

// over returns tool t0 with what the flags say over it.
func (t *toolFlags) over(f *flags, t0 inspect.Tool, unit length.Unit) (inspect.Tool, error) {
	r := &reader{unit: unit}
	for _, w := range []struct {
		flag string
		set  func()
	}{
		{"diameter", func() { t0.Diameter = r.length("diameter", t.diameter) }},
		{"flutes", func() { t0.Flutes = t.flutes }},
		{"material", func() { t0.Material = inspect.Material(t.material) }},
		{"helix", func() { t0.Helix = r.neededAngle("helix", t.helix) }},
		{"hand", func() { t0.Hand = inspect.Hand(t.hand) }},
		{"angles", func() { t0.Angles = r.angles("angles", t.angles) }},
		{"ends", func() { t0.Ends = inspect.Ends(t.ends) }},
		{"teeth", func() { t0.Teeth = inspect.Teeth(t.teeth) }},
		{"duty", func() { t0.Duty = inspect.Duty(t.duty) }},
		{"primary-relief", func() { t0.PrimaryRelief = r.angle("primary-relief", t.primary) }},
		{"secondary-relief", func() { t0.SecondaryRelief = r.angle("secondary-relief", t.secondary) }},
		{"rake", func() { t0.Rake = r.angle("rake", t.rake) }},
		{"note", func() { t0.Note = t.note }},
	} {
		if f.Changed(w.flag) {
			w.set()
		}
	}
	if r.err == nil {
		if err := t0.Check(); err != nil {
			r.err = usageError{err}
		}
	}
	return t0, r.err
}

func toolCommands() command {
	var add, change toolFlags
	var list, show struct {
		places
		units
	}
	var retire struct {
		places
		reason string
	}
	own := []command{
		{
			name: "add", args: "ID", summary: "add a tool",
			example: "tool add EM-0412 --diameter 0.5in --flutes 4 --material hss",
			flags:   add.flags,
			run:     func(e env, f *flags) error { return add.add(e, f) },
		},
		{
			name: "change", args: "ID", summary: "change what is known of a tool; what was known stays in the ledger",
			example: "tool change EM-0412 --note reground",
			flags:   change.flags,
			run:     func(e env, f *flags) error { return change.change(e, f) },
		},
		{
			name: "list", summary: "list the tools",
			example: "tool list",
			flags:   func(f *flags) { list.places.flags(f); list.units.flags(f) },
			run:     func(e env, f *flags) error { return listTools(e, &list.places, &list.units) },
		},
		{
			name: "show", args: "ID", summary: "show a tool with the limits in force for it",
			example: "tool show EM-0412",
			flags:   func(f *flags) { show.places.flags(f); show.units.flags(f) },
			run:     func(e env, f *flags) error { return showTool(e, f.args[0], &show.places, &show.units) },
		},
		{
			name: "retire", args: "ID", summary: "take a tool out of use, for a reason",
			example: `tool retire EM-0412 --reason "under its smallest diameter"`,
			flags: func(f *flags) {
				f.StringVar(&retire.reason, "reason", "", "why")
				retire.places.flags(f)
			},
			run: func(e env, f *flags) error { return retireTool(e, f.args[0], &retire.places, retire.reason) },
		},
	}
	return command{
		name: "tool", summary: "the tools of the ledger: add, change, list, show, retire; release, concession, withdraw",
		sub: append(own, rulingCommands()...),
	}
}

func (t *toolFlags) add(e env, f *flags) error {
	at, err := t.openIn(e, &t.units)
	if err != nil {
		return err
	}
	id := f.args[0]
	if _, err := session.FindTool(at.Ledger, id); err == nil {
		return hinted{usagef("tool %q is in the ledger already", id), "flutelog tool change " + id + " changes it"}
	} else if !errors.Is(err, session.ErrNoTool) {
		return err
	}
	fresh := inspect.Tool{ID: id, Helix: 30 * length.Degree, Hand: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing}
	tool, err := t.over(f, fresh, at.unit)
	if err != nil {
		return err
	}
	warnMangled(e, id)
	return t.save(e, at, tool)
}

func (t *toolFlags) change(e env, f *flags) error {
	at, err := t.openIn(e, &t.units)
	if err != nil {
		return err
	}
	tool, err := session.FindTool(at.Ledger, f.args[0])
	if err != nil {
		return err
	}
	changed, err := t.over(f, tool, at.unit)
	if err != nil {
		return err
	}
	return t.save(e, at, changed)
}

// warnMangled warns of an id that a spreadsheet will not leave as it is.
func warnMangled(e env, id string) {
	if why := mangled(id); why != "" {
		fmt.Fprintf(e.stderr, "flutelog: hint: a spreadsheet will take the id %q for %s; an id that begins with a letter, such as EM-%s, stays as it is\n", id, why, id)
	}
}

// mangled says what a spreadsheet takes an id for that does not stay text; "" when it stays.
func mangled(id string) string {
	digits := strings.Trim(id, "0123456789")
	switch {
	case digits == "":
		return "a number"
	case (digits == "E" || digits == "e") && id[0] != digits[0] && id[len(id)-1] != digits[0]:
		return "a number with an exponent"
	case strings.Trim(id, "0123456789/-.:") == "":
		return "a date, a time or a number"
	case strings.ContainsAny(id[:1], "=+-@"):
		return "a formula"
	}
	return ""
}

func retireTool(e env, id string, p *places, reason string) error {
	if strings.TrimSpace(reason) == "" {
		return usagef("--reason is needed: why %s is taken out of use", id)
	}
	_, l, err := p.open(e)
	if err != nil {
		return err
	}
	tool, err := session.FindTool(l, id)
	if err != nil {
		return err
	}
	tool.Retired = reason
	if _, err := session.SaveTool(l, tool); err != nil {
		return err
	}
	fmt.Fprintf(e.stdout, "%s is out of use: %s\n", id, reason)
	return nil
}

func listTools(e env, p *places, u *units) error {
	at, err := p.openIn(e, u)
	if err != nil {
		return err
	}
	tools, err := session.Tools(at.Ledger)
	if err != nil {
		return err
	}
	if u.json {
		return printJSON(e, tools)
	}
	w := tabwriter.NewWriter(e.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "tool\tdiameter\tflutes\tmaterial\thelix\tends\tduty\tin use")
	for _, t := range tools {
		use := "yes"
		if t.Retired != "" {
			use = "no: " + t.Retired
		}
		fmt.Fprintf(w, "%s\t%s\t%d\t%s\t%s\t%s\t%s\t%s\n", t.ID, t.Diameter.In(at.unit), t.Flutes, t.Material, t.Helix, t.Ends, t.Duty, use)
	}
	return w.Flush()
}

func showTool(e env, id string, p *places, u *units) error {
	at, err := p.openIn(e, u)
	if err != nil {
		return err
	}
	tool, err := session.FindTool(at.Ledger, id)
	if err != nil {
		return err
	}
	basis := at.bench.Basis(tool, inspect.After)
	if u.json {
		return printJSON(e, map[string]any{"tool": tool, "basis": basis})
	}
	printTool(e.stdout, tool, at.unit)
	fmt.Fprintf(e.stdout, "\nlimits in force (%s)\n", basis.Revision)
	printLimits(e.stdout, basis.Limits, at.unit)
	return nil
}

func (t *toolFlags) save(e env, at opened, tool inspect.Tool) error {
	if _, err := session.SaveTool(at.Ledger, tool); err != nil {
		return err
	}
	if t.json {
		return printJSON(e, tool)
	}
	printTool(e.stdout, tool, at.unit)
	return nil
}

func printTool(out io.Writer, t inspect.Tool, unit length.Unit) {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	row := func(name string, value any) { fmt.Fprintf(w, "%s\t%v\n", name, value) }
	row("tool", t.ID)
	row("diameter", t.Diameter.In(unit))
	row("flutes", t.Flutes)
	row("material", t.Material)
	row("helix", fmt.Sprintf("%s, %s hand", t.Helix, t.Hand))
	row("ends", t.Ends)
	row("teeth", t.Teeth)
	row("duty", t.Duty)
	for _, a := range []struct {
		name  string
		value *length.Angle
	}{{"primary relief", t.PrimaryRelief}, {"secondary relief", t.SecondaryRelief}, {"rake", t.Rake}} {
		if a.value != nil {
			row(a.name, *a.value)
		}
	}
	if t.Angles != nil {
		row("flute angles", t.Angles)
	}
	if t.Note != "" {
		row("note", t.Note)
	}
	if t.Retired != "" {
		row("out of use", t.Retired)
	}
	w.Flush()
}

// printLimits prints every limit in force, whether it is judged or advice, and where it comes from.
func printLimits(out io.Writer, l inspect.Limits, unit length.Unit) {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	shown := map[inspect.Feature]bool{}
	for _, row := range inspect.LimitTable {
		limit := l[row.Feature]
		if !limit.Set() || shown[row.Feature] {
			continue
		}
		shown[row.Feature] = true
		kind := "advice"
		if limit.Judged {
			kind = "judged"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", words.Figure(row.Feature), words.Band(limit.Least, limit.Most, unit), kind, limit.Source)
	}
	w.Flush()
}
