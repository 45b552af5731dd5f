// Package tools is the commands about the tools of the ledger: what they are, which there are, how each stands and
// what was told of it.
package tools

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	"flutelog/cmd/flutelog/internal/board"
	"flutelog/cmd/flutelog/internal/calculators"
	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/output"
	"flutelog/cmd/flutelog/internal/rulings"
	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/mark"
	"flutelog/inspect/record"
	"flutelog/inspect/report"
	"flutelog/inspect/words"
)

// toolFlags are the flags that describe a tool.
type toolFlags struct {
	command.Places
	command.Units
	diameter, helix, hand, angles, material, ends, teeth, duty string
	primary, secondary, rake, note                             string
	flutes                                                     int
	kind                                                       kindFlags

	// of add only
	sign      rulings.SignFlags
	was, from string
}

func (t *toolFlags) flags(f *command.Flags) {
	f.StringVar(&t.diameter, "diameter", "", "nominal cutting diameter, such as 0.5in or 12mm")
	f.IntVar(&t.flutes, "flutes", 0, "number of flutes, 1 to 12")
	f.WordVar(&t.material, "material", "", command.OneOf(inspect.ToolWords("material")...))
	f.StringVar(&t.helix, "helix", "", "helix angle in degrees (default 30)")
	f.WordVar(&t.hand, "hand", "", "hand of the helix, "+usual("hand"))
	f.StringVar(&t.angles, "angles", "", "angle of each flute in degrees when they are not equally spaced: 0,88,180,268")
	f.WordVar(&t.ends, "ends", "", usual("ends"))
	f.WordVar(&t.teeth, "teeth", "", usual("teeth"))
	f.WordVar(&t.duty, "duty", "", usual("duty"))
	f.StringVar(&t.primary, "primary-relief", "", "nominal primary relief in degrees, where it is known")
	f.StringVar(&t.secondary, "secondary-relief", "", "nominal secondary relief in degrees")
	f.StringVar(&t.rake, "rake", "", "radial rake in degrees")
	f.StringVar(&t.note, "note", "", "anything worth knowing")
	t.kind.flags(f)
	t.Places.Flags(f)
	t.Units.Flags(f)
}

// over returns tool t0 with what the flags say over it.
func (t *toolFlags) over(f *command.Flags, t0 inspect.Tool, unit length.Unit) (inspect.Tool, error) {
	r := &command.Reader{Unit: unit}
	for _, w := range []struct {
		flag string
		set  func()
	}{
		{"diameter", func() { t0.Diameter = r.Length("diameter", t.diameter) }},
		{"flutes", func() { t0.Flutes = t.flutes }},
		{"material", func() { t0.Material = inspect.Material(t.material) }},
		{"helix", func() { t0.Helix = r.NeededAngle("helix", t.helix) }},
		{"hand", func() { t0.Hand = inspect.Hand(t.hand) }},
		{"angles", func() { t0.Angles = r.Angles("angles", t.angles) }},
		{"ends", func() { t0.Ends = inspect.Ends(t.ends) }},
		{"teeth", func() { t0.Teeth = inspect.Teeth(t.teeth) }},
		{"duty", func() { t0.Duty = inspect.Duty(t.duty) }},
		{"primary-relief", func() { t0.PrimaryRelief = r.Angle("primary-relief", t.primary) }},
		{"secondary-relief", func() { t0.SecondaryRelief = r.Angle("secondary-relief", t.secondary) }},
		{"rake", func() { t0.Rake = r.Angle("rake", t.rake) }},
		{"note", func() { t0.Note = t.note }},
	} {
		if f.Changed(w.flag) {
			w.set()
		}
	}
	t.kind.over(f, r, &t0)
	if r.Err == nil {
		if err := t0.Check(); err != nil {
			r.Err = command.Usage(err)
		}
	}
	return t0, r.Err
}

func Tools() command.Command {
	var add, change toolFlags
	var list, show struct {
		command.Places
		command.Units
		standing string
	}
	var retire struct {
		command.Places
		reason string
	}
	own := []command.Command{
		{
			Name: "add", Args: "[ID]…", Summary: "add a tool, or several: EM-1 EM-2, EM-3..EM-12, or --from a packing list; with --was, in the place of one that was withdrawn by a slip",
			Example: "tool add EM-0412 --diameter 0.5in --flutes 4 --material hss",
			Flags: func(f *command.Flags) {
				add.flags(f)
				f.StringVar(&add.from, "from", "", "a CSV list of tools, - for standard input: a column id, and any that are flags here (diameter, flutes, material …)")
				f.StringVar(&add.was, "was", "", "the tool that it was, which was withdrawn by a slip; by one who may sign")
				f.StringVar(&add.sign.By, "by", "", "with --was: who decides")
				f.StringVar(&add.sign.PinFile, "pin-file", "", "with --was: file with the PIN of who decides")
			},
			Run: func(e command.Env, f *command.Flags) error { return add.add(e, f) },
		},
		{
			Name: "change", Args: "ID", Summary: "change what is known of a tool; what was known stays in the ledger",
			Example: "tool change EM-0412 --note reground",
			Flags:   change.flags,
			Run:     func(e command.Env, f *command.Flags) error { return change.change(e, f) },
		},
		{
			Name: "list", Summary: "list the tools with how each stands",
			Example: "tool list",
			Flags: func(f *command.Flags) {
				f.WordVar(&list.standing, "standing", "", "only tools that stand so: to grind, to sign, recalled …")
				list.Places.Flags(f)
				list.Units.Flags(f)
			},
			Run: func(e command.Env, f *command.Flags) error {
				at, err := list.OpenIn(e, &list.Units)
				if err != nil {
					return err
				}
				if list.standing != "" && !slices.Contains(record.Standings, record.Standing(list.standing)) {
					return command.Usagef("--standing %q: want one of %v", list.standing, record.Standings)
				}
				return listTools(e, at, &list.Units, func(t record.Listed) bool {
					return list.standing == "" || list.standing == string(t.Standing)
				})
			},
		},
		findCommand(),
		{
			Name: "show", Args: "ID", Summary: "a tool's card: how it stands, its locks and rulings, and the limits in force for it",
			Example: "tool show EM-0412",
			Flags:   func(f *command.Flags) { show.Places.Flags(f); show.Units.Flags(f) },
			Run: func(e command.Env, f *command.Flags) error {
				return command.Paged(e, func(e command.Env) error { return Show(e, f.Args[0], &show.Places, &show.Units) })
			},
		},
		{
			Name: "retire", Args: "ID", Summary: "take a tool out of use, for a reason",
			Example: `tool retire EM-0412 --reason "under its smallest diameter"`,
			Flags: func(f *command.Flags) {
				f.StringVar(&retire.reason, "reason", "", "why")
				retire.Places.Flags(f)
			},
			Run: func(e command.Env, f *command.Flags) error {
				return retireTool(e, f.Args[0], &retire.Places, retire.reason)
			},
		},
	}
	return command.Command{
		Name: "tool", Summary: "the tools of the ledger: add, change, list, find, show, retire; ground, away, back, note; release, concession, withdraw, unlock",
		Sub: slices.Concat(own, toldCommands(), rulings.OfTools()),
	}
}

func (t *toolFlags) add(e command.Env, f *command.Flags) error {
	if len(f.Args) == 0 && t.from == "" {
		return command.Hint(command.Usagef("%s: which tool? Give its id, several, a range as EM-3..EM-12, or --from a list", f.Path), "see "+f.Path+" --help")
	}
	at, err := t.OpenIn(e, &t.Units)
	if err != nil {
		return err
	}
	ids, err := board.Spread(f.Args)
	if err != nil {
		return command.Usage(err)
	}
	if t.was != "" {
		return t.succeed(e, at, f)
	}
	fresh := inspect.Tool{Helix: 30 * length.Degree, Hand: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing}
	var tools []inspect.Tool
	for _, id := range ids {
		fresh.ID = id
		tool, err := t.over(f, fresh, at.Unit)
		if err != nil {
			return err
		}
		tools = append(tools, tool)
	}
	if t.from != "" {
		listed, err := t.readPacking(e, f, t.from, fresh, at)
		if err != nil {
			return err
		}
		tools = append(tools, listed...)
	}
	if err := record.AddTools(at.Ledger, tools); err != nil {
		return wrongID(err)
	}
	for _, tool := range tools {
		if err := t.print(e, at, tool); err != nil {
			return err
		}
		output.WarnSpreadsheet(e, "id", tool.ID)
		if _, err := strconv.ParseUint(tool.ID, 10, 64); err == nil {
			fmt.Fprintf(e.Stderr, "flutelog: hint: to a spreadsheet the inspections %s.1 and %[1]s.10 will be one number; an id that begins with a letter, such as EM-%[1]s, keeps them apart\n", tool.ID)
		}
	}
	return nil
}

// succeed adds a tool in the place of one that was withdrawn by a slip: it is what that one was, but for what the
// flags say.
func (t *toolFlags) succeed(e command.Env, at command.Opened, f *command.Flags) error {
	if len(f.Args) > 1 {
		return command.Usagef("--was %s: one tool takes its place, not %d", t.was, len(f.Args))
	}
	who, err := t.sign.Who(e, at.Bench, at.Ledger, false)
	if err != nil {
		return err
	}
	old, err := record.FindTool(at.Ledger, t.was)
	if err != nil {
		return err
	}
	fresh := old.Tool
	fresh.ID, fresh.Retired = f.Args[0], ""
	tool, err := t.over(f, fresh, at.Unit)
	if err != nil {
		return err
	}
	if _, err := record.Succeed(at.Ledger, tool, t.was, who); err != nil {
		return wrongID(err)
	}
	fmt.Fprintf(e.Stdout, "%s takes the place of %s, which stays withdrawn; its life begins anew\n", tool.ID, t.was)
	Print(e.Stdout, tool, at.Unit)
	return nil
}

func (t *toolFlags) change(e command.Env, f *command.Flags) error {
	at, err := t.OpenIn(e, &t.Units)
	if err != nil {
		return err
	}
	tool, err := record.FindTool(at.Ledger, f.Args[0])
	if err != nil {
		return err
	}
	changed, err := t.over(f, tool.Tool, at.Unit)
	if err != nil {
		return err
	}
	if _, err := record.SaveTool(at.Ledger, changed); err != nil {
		return wrongID(err)
	}
	return t.print(e, at, changed)
}

func retireTool(e command.Env, id string, p *command.Places, reason string) error {
	if strings.TrimSpace(reason) == "" {
		return command.Usagef("--reason is needed: why %s is taken out of use", id)
	}
	_, l, err := p.Open(e)
	if err != nil {
		return err
	}
	if _, err := record.Retire(l, id, reason); err != nil {
		return err
	}
	fmt.Fprintf(e.Stdout, "%s is out of use: %s\n", id, reason)
	return nil
}

// listTools prints the tools that are wanted, as they come.
func listTools(e command.Env, at command.Opened, u *command.Units, wanted func(record.Listed) bool) error {
	return printListed(e, func(put func(record.Listed)) error {
		for t, err := range record.List(at.Ledger) {
			if err := command.Damaged(e, err); err != nil {
				return err
			}
			if err == nil && wanted(t) {
				put(t)
			}
		}
		return nil
	}, at, u)
}

// printListed prints a list of tools, of which each is put; nothing where an error ends them.
func printListed(e command.Env, tools func(put func(record.Listed)) error, at command.Opened, u *command.Units) error {
	if !u.JSON {
		return command.Paged(e, func(e command.Env) error { return printTools(e, tools, at.Unit) })
	}
	all := []report.Tool{}
	if err := tools(func(t record.Listed) { all = append(all, report.NewTool(t, at.Unit)) }); err != nil {
		return err
	}
	return command.PrintJSON(e, all)
}

// printTools prints a tool a line; a column in which nothing would stand is left out.
func printTools(e command.Env, tools func(put func(record.Listed)) error, unit length.Unit) error {
	rows := [][]string{{"tool", "standing", "since", "job", "diameter", "flutes", "material", "ends", "duty", "remarks"}}
	var filled [10]bool
	err := tools(func(t record.Listed) {
		remarks := []string{t.Retired, report.AwayWords(t.Away), t.Damaged}
		if t.ToldAt != "" {
			remarks = append(remarks, "at "+t.ToldAt+" by the register's word")
		}
		if len(t.Open) > 0 {
			remarks = append(remarks, e.Marks().With(mark.Half, "half read: "+strings.Join(t.Open, ", ")))
		}
		remarks = slices.DeleteFunc(remarks, func(s string) bool { return s == "" })
		row := []string{
			t.ID, e.Marks().Cell(mark.Standing(t.Standing), string(t.Standing)), output.Day(t.Since.Time), t.Job, cmp.Or(t.Last, &t.Tool.Diameter).In(unit),
			strconv.Itoa(t.Flutes), string(t.Material), string(t.Ends), string(t.Duty), strings.Join(remarks, "; "),
		}
		for i, cell := range row {
			filled[i] = filled[i] || cell != ""
		}
		rows = append(rows, row)
	})
	if err != nil {
		return err
	}
	w := tabwriter.NewWriter(e.Stdout, 0, 0, 2, ' ', 0)
	for _, row := range rows {
		cells := row[:0]
		for i, cell := range row {
			if filled[i] || len(rows) == 1 {
				cells = append(cells, cell)
			}
		}
		io.WriteString(w, strings.Join(cells, "\t")+"\n")
	}
	return w.Flush()
}

func Show(e command.Env, id string, p *command.Places, u *command.Units) error {
	at, err := p.OpenIn(e, u)
	if err != nil {
		return err
	}
	if err := command.AskElsewhere(e, at.Ledger, record.ToolSubject(id)); err != nil {
		return err
	}
	tool, err := record.FindTool(at.Ledger, id)
	if err != nil {
		return err
	}
	basis := at.Bench.Basis(tool.Tool, inspect.After)
	entered, err := record.FindOffsets(at.Ledger, tool.ID)
	if err != nil {
		return err
	}
	widths := lastWidths(at, tool, basis)
	if u.JSON {
		text, err := output.JoinedJSON(newCardJSON(tool, at.Unit), map[string]any{
			"described": newToolJSON(tool.Tool, at.Unit), "offsets": calculators.NewEntered(entered, at.Unit), "drop_by": widths.DropBy(),
		}, newLimitsJSON(widths, basis, at.Unit))
		if err != nil {
			return err
		}
		return command.PrintJSON(e, text)
	}
	printCard(e, tool, at.Unit)
	calculators.PrintEntered(e, entered, tool.Standing.Usable(), at.Unit)
	Print(e.Stdout, tool.Tool, at.Unit)
	printLook(e, widths, at.Unit)
	fmt.Fprintf(e.Stdout, "\nlimits in force (%s)\n", basis.Revision)
	printLimits(e.Stdout, basis.Limits, at.Unit)
	return nil
}

// printCard prints how a tool stands and what is known of how it was ground last.
func printCard(e command.Env, t record.Tool, unit length.Unit) {
	fmt.Fprintln(e.Stdout, output.StandingLine(e, t.State))
	w := tabwriter.NewWriter(e.Stdout, 0, 0, 2, ' ', 0)
	c := newCardJSON(t, unit)
	for _, row := range [][2]string{{"decided by", c.Inspection}, {"job", t.Job}, {"last wheel", c.Wheel}, {"last inspector", c.Inspector}, {"elsewhere", t.Elsewhere.Words()}} {
		if row[1] != "" {
			fmt.Fprintf(w, "%s\t%s\n", row[0], row[1])
		}
	}
	if d := t.LastDiameter(); d != nil {
		fmt.Fprintf(w, "diameter read last\t%s\n", d.In(unit))
	}
	if c.Divisions > 0 {
		fmt.Fprintf(w, "divisions fed last\t%d\n", c.Divisions)
	}
	if c.EndsFed > 0 {
		fmt.Fprintf(w, "divisions fed last to the ends\t%d\n", c.EndsFed)
	}
	fmt.Fprintf(w, "regrinds released\t%d\n", c.Regrinds)
	w.Flush()
	for _, l := range t.Locks {
		fmt.Fprintf(e.Stdout, "lock: %s, on %s; lock record %d of %s\n", l, output.Day(l.At), l.Ref.Seq, l.Where)
	}
	for _, r := range t.Rulings {
		on := "on the tool itself"
		if r.Inspection != "" {
			on = "by inspection " + r.Inspection
		}
		fmt.Fprintf(e.Stdout, "%s, %s\n", output.RulingLine(e, r), on)
	}
	for _, n := range t.Notes {
		fmt.Fprintf(e.Stdout, "note, %s: %s\n", output.Day(n.At), n.Text)
	}
}

// cardJSON is a tool's card for a program.
type cardJSON struct {
	Tool       string              `json:"tool"`
	Standing   record.Standing     `json:"standing"`
	Lacks      string              `json:"lacks,omitempty"`
	What       []inspect.Task      `json:"what,omitempty"`
	Inspection string              `json:"inspection,omitempty"` // that decides
	Since      string              `json:"since,omitempty"`
	Job        string              `json:"job,omitempty"`
	Open       []string            `json:"open,omitempty"`
	Away       string              `json:"away,omitempty"`
	Locks      []output.LockJSON   `json:"locks"`
	Rulings    []output.RulingJSON `json:"rulings"`
	Unit       length.Unit         `json:"unit"`
	Last       *length.Number      `json:"last_diameter"`
	Wheel      string              `json:"wheel,omitempty"`
	Grinder    string              `json:"grinder,omitempty"`
	Divisions  int                 `json:"divisions,omitempty"`
	EndsFed    int                 `json:"end_divisions,omitempty"`
	Inspector  string              `json:"inspector,omitempty"`
	Regrinds   int                 `json:"regrinds"`

	Elsewhere *output.ElsewhereJSON `json:"elsewhere,omitempty"`
}

func newCardJSON(t record.Tool, unit length.Unit) cardJSON {
	c := cardJSON{
		Tool: t.ID, Standing: t.Standing, Lacks: t.Lacks(), What: t.What, Inspection: t.State.Inspection, Since: t.Since.Time, Job: t.Job, Open: t.Open,
		Away: report.AwayWords(t.Away), Locks: output.NewLocksJSON(t.State), Rulings: []output.RulingJSON{}, Unit: unit, Elsewhere: output.NewElsewhereJSON(t.State),
	}
	for _, r := range t.Rulings {
		c.Rulings = append(c.Rulings, output.RulingJSON{Ruling: r.Word, By: r.By, Why: r.Why, At: r.At})
	}
	if d := t.LastDiameter(); d != nil {
		n := d.Number(unit)
		c.Last = &n
	}
	for _, h := range t.Inspections {
		c.Wheel, c.Grinder, c.Divisions, c.Inspector = cmp.Or(h.Wheel, c.Wheel), cmp.Or(h.Grinder, c.Grinder), cmp.Or(h.Divisions, c.Divisions), cmp.Or(h.Inspector, c.Inspector)
		c.Regrinds = h.Regrind
	}
	for _, g := range t.Grounds {
		c.Wheel, c.Divisions, c.EndsFed = cmp.Or(g.Wheel, c.Wheel), cmp.Or(g.Divisions, c.Divisions), cmp.Or(g.EndsFed, c.EndsFed)
	}
	return c
}

// wrongID tells an error that is about a tool's id from others.
func wrongID(err error) error {
	var known *record.KnownError
	switch {
	case errors.As(err, &known):
		return command.Hint(command.Usage(err), "flutelog tool change "+known.ID+" changes it")
	case errors.Is(err, record.ErrAlike), errors.Is(err, record.ErrSpelled):
		return command.Usage(err)
	}
	return err
}

// print prints a tool that was recorded.
func (t *toolFlags) print(e command.Env, at command.Opened, tool inspect.Tool) error {
	warnNominal(e, at, tool)
	if t.JSON {
		return command.PrintJSON(e, newToolJSON(tool, at.Unit))
	}
	Print(e.Stdout, tool, at.Unit)
	return nil
}

func Print(out io.Writer, t inspect.Tool, unit length.Unit) {
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
	for _, r := range kindRows(t, unit) {
		row(r[0], r[1])
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
