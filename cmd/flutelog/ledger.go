package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"os"
	"os/signal"
	"slices"
	"strings"
	"syscall"
	"time"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
	"flutelog/inspect/register"
	"flutelog/inspect/text"
)

func ledgerCommands() command.Command {
	var verify, merge, mend, leave struct {
		command.Places
		json bool
	}
	var heads []string
	var dryRun, yes bool
	var every time.Duration
	var choice ledger.MendOptions
	var by, why string
	return command.Command{Name: "ledger", Summary: "the record itself: verify it, merge other benches' copies, mend what is damaged", Sub: []command.Command{
		{
			Name: "verify", Summary: "check every line of the ledger, and what printed heads prove of it",
			Example: "ledger verify",
			Flags: func(f *command.Flags) {
				f.StringArrayVar(&heads, "head", nil, "a head as printed on a sheet, a report or a closing line; several times")
				f.BoolVar(&verify.json, "json", false, "print the result as JSON")
				verify.Places.Flags(f)
			},
			Run: func(e command.Env, f *command.Flags) error {
				return verifyLedger(e, &verify.Places, heads, verify.json)
			},
		},
		{
			Name: "merge", Args: "FOLDER…", Summary: "copy other benches' records into this ledger; as often as you like",
			Example: "ledger merge /media/stick/flutelog-ledger",
			Flags: func(f *command.Flags) {
				f.BoolVar(&dryRun, "dry-run", false, "only say what would come, and from whom")
				f.DurationVar(&every, "every", 0, "merge again and again at this distance, 5m, until it is stopped: for folders that benches share")
				f.BoolVar(&merge.json, "json", false, "print the result as JSON")
				merge.Places.Flags(f)
			},
			Run: func(e command.Env, f *command.Flags) error {
				if every == 0 {
					return mergeLedgers(e, &merge.Places, f.Args, dryRun, merge.json)
				}
				if every < time.Second || dryRun {
					return command.Usagef("--every %s: want a second at least, and no --dry-run", every)
				}
				ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
				defer stop()
				return keepMerging(ctx, e, &merge.Places, f.Args, every, merge.json)
			},
		},
		{
			Name: "mend", Summary: "say what is damaged and what would be done about it; with --yes, do it. Nothing is ever deleted",
			Example: "ledger mend",
			Flags: func(f *command.Flags) {
				f.BoolVar(&yes, "yes", false, "do it")
				f.StringVar(&choice.From, "from", "", "a copy of this ledger, or one that it was merged into, to take lost lines from")
				f.StringVar(&choice.Bench, "as-bench", "", "the bench that writes here, where that is not known any more; new begins a new one")
				f.StringArrayVar(&choice.GiveUp, "give-up", nil, "a damaged draft to close as it is; several times")
				f.StringVar(&choice.By, "by", "", "who decides this, for the record")
				f.StringVar(&choice.Why, "why", "", "and why")
				f.BoolVar(&mend.json, "json", false, "print the result as JSON")
				mend.Places.Flags(f)
			},
			Run: func(e command.Env, f *command.Flags) error {
				return mendLedger(e, &mend.Places, choice, yes, mend.json)
			},
		},
		{
			Name: "leave-out", Args: "BENCH", Summary: "leave a merged bench's records out of all that stands, by a record of who says so and why",
			Example: `ledger leave-out a41c98d2e07b56f3 --by "Person A" --why "its gauge was off by a turn"`,
			Flags: func(f *command.Flags) {
				f.StringVar(&by, "by", "", "who decides this")
				f.StringVar(&why, "why", "", "and why")
				leave.Places.Flags(f)
			},
			Run: func(e command.Env, f *command.Flags) error {
				_, l, err := leave.Places.Open(e)
				if err != nil {
					return err
				}
				benches, err := l.Benches()
				if err != nil {
					return err
				}
				if !slices.Contains(benches, f.Args[0]) {
					return command.Usagef("bench %q: this ledger has no records of it; it has those of %s", f.Args[0], strings.Join(benches, ", "))
				}
				r, err := record.LeaveOutBench(l, f.Args[0], record.Who{By: by, Why: why, At: e.Now()})
				if err != nil {
					return command.Usage(err)
				}
				fmt.Fprintf(e.Stdout, "bench %s is left out: record %d\n", f.Args[0], r.Seq)
				return nil
			},
		},
	}}
}

func verifyLedger(e command.Env, p *command.Places, heads []string, asJSON bool) error {
	b, err := p.ReadBench(e)
	if err != nil {
		return err
	}
	dir, err := p.LedgerFolder(e, b)
	if err != nil {
		return err
	}
	for _, head := range heads {
		if _, err := ledger.ParseHead(head); err != nil {
			return command.Usage(fmt.Errorf("--head: %w", err))
		}
	}
	receipts, err := register.Receipts(dir)
	if err != nil {
		fmt.Fprintf(e.Stderr, "flutelog: %s: they are not taken\n", text.Show(err.Error()))
		receipts = nil
	}
	all := slices.Clone(heads)
	for _, r := range receipts {
		all = append(all, r.Head)
	}
	progress := command.NewProgress(e)
	v, err := ledger.Verify(dir, all, func(done, total int64) {
		progress.Say(func() string { return fmt.Sprintf("%d of %d MB checked", done>>20, total>>20) })
	})
	progress.End()
	if err != nil {
		return err
	}
	if asJSON {
		err = command.PrintJSON(e, verifiedJSON(v, receipts))
	} else {
		printVerified(e, v, heads, receipts)
	}
	if err == nil && len(v.Damage) > 0 {
		return command.StatusFallsShort
	}
	return err
}

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// furthest returns the furthest line of a bench that heads name; 0 for none.
func furthest(bench string, heads []string) uint64 {
	var most uint64
	for _, text := range heads {
		if h, err := ledger.ParseHead(text); err == nil && h.Bench == bench {
			most = max(most, h.Seq)
		}
	}
	return most
}

// witnessed returns the receipt of the furthest line of a bench that a register has acknowledged; nil for none.
func witnessed(bench string, receipts []register.Receipt) *register.Receipt {
	var last *register.Receipt
	for _, r := range receipts {
		if seq := furthest(bench, []string{r.Head}); seq > 0 && (last == nil || seq >= furthest(bench, []string{last.Head})) {
			last = &r
		}
	}
	return last
}

func printVerified(e command.Env, v ledger.VerifyReport, heads []string, receipts []register.Receipt) {
	say := func(format string, args ...any) { fmt.Fprintln(e.Stdout, text.Show(fmt.Sprintf(format, args...))) }
	if n := len(v.Damage); n > 0 {
		say("DAMAGED: %s; %s read as they were written", counted(n, "place", "places"), counted(v.Records, "record", "records"))
	} else {
		say("SOUND: %s read as they were written", counted(v.Records, "record", "records"))
	}
	for _, d := range v.Damage {
		say("  %s", d)
	}
	denied := 0
	for _, b := range v.Benches {
		denied += b.Denied
	}
	if denied > 0 {
		say("  first hold each head given against the paper it was printed on, and give it again")
	}
	if len(v.Damage) > denied {
		say("  \"flutelog ledger mend\" says what can be done; all else goes on meanwhile")
	}
	for _, d := range v.Void {
		say("  void, never acknowledged: %s", d)
	}
	proven := true
	for _, b := range v.Benches {
		own := ""
		if b.Own {
			own = ", this bench"
		}
		say("bench %s (%s%s): %s, of which %s and %s, head %s", b.Bench, cmp.Or(b.Label, "no name"), own, counted(b.Records+b.Segments, "line", "lines"),
			counted(b.Records, "is a record", "are records"), counted(b.Segments, "begins a segment", "begin a segment"), b.Head)
		given := min(b.Proven, furthest(b.Bench, heads))
		switch behind := b.Head.Seq - min(given, b.Head.Seq); {
		case given == 0 && furthest(b.Bench, heads) > 0:
			say("  the head given names no line of it as it stands: nothing of it is proven")
			proven = false
		case given == 0:
			say("  no head of it was given: nothing of it is proven")
			proven = false
		case behind == 0:
			say("  the head given proves all of it, up to line %d", given)
		default:
			say("  the head given proves it up to line %d; what is behind, %s, is not proven", given, counted(int(behind), "line", "lines"))
			proven = false
		}
		if r := witnessed(b.Bench, receipts); r != nil && b.Proven > 0 {
			say("  witnessed up to number %d by the register at %s, which acknowledged it on %s", furthest(b.Bench, []string{r.Head}), r.Address, localTime(r.Date))
			if r.Witness != "" {
				say("  and whose own ledger ended with %s then", r.Witness)
			}
			say("  The receipts stand in this folder too: ask the register itself where the folder is not to be trusted.")
		}
	}
	for _, o := range v.Open {
		state := fmt.Sprintf("%s read", counted(o.Lines, "line", "lines"))
		switch {
		case o.Gone:
			state = "its draft is gone"
		case o.Opened.Bench != ownBench(v):
			state = "at its own bench, as of the last merge"
		}
		say("opened and not closed: %s, number %d of bench %s: %s", o.Opened.Opens, o.Opened.Seq, o.Opened.Bench, state)
	}
	if !proven {
		say("What no printed head proves could have been written anew, or cut off at its end, by whoever holds the folder:")
		say("give the heads that were printed, with --head. See README, The ledger.")
	}
}

func ownBench(v ledger.VerifyReport) string {
	for _, b := range v.Benches {
		if b.Own {
			return b.Bench
		}
	}
	return ""
}

// damagePlace is a place of damage as scripts read it.
type damagePlace struct {
	Segment string `json:"segment"`
	Line    int    `json:"line"`
	What    string `json:"what"`
	Subject string `json:"subject,omitempty"`
}

func damagePlaces(damage []ledger.Damage) []damagePlace {
	places := []damagePlace{}
	for _, d := range damage {
		places = append(places, damagePlace{d.Segment, d.Line, d.What, d.Subject})
	}
	return places
}

// witnessJSON is the furthest acknowledgement of a register, for a program.
type witnessJSON struct {
	Seq     uint64 `json:"seq"`
	By      string `json:"by"` // the register's address
	At      string `json:"at"` // by its clock
	Head    string `json:"head"`
	Witness string `json:"witness,omitempty"` // what its own ledger ended with
}

func newWitnessJSON(bench string, receipts []register.Receipt) *witnessJSON {
	r := witnessed(bench, receipts)
	if r == nil {
		return nil
	}
	return &witnessJSON{furthest(bench, []string{r.Head}), r.Address, r.Date, r.Head, r.Witness}
}

func verifiedJSON(v ledger.VerifyReport, receipts []register.Receipt) any {
	type benchJSON struct {
		Bench    string `json:"bench"`
		Label    string `json:"label"`
		Own      bool   `json:"own"`
		Segments int    `json:"segments"`
		Records  int    `json:"records"`
		Head     string `json:"head"`
		Proven   uint64 `json:"proven"` // by heads and receipts

		Witnessed *witnessJSON `json:"witnessed,omitempty"`
	}
	type openJSON struct {
		Inspection string `json:"inspection"`
		Subject    string `json:"subject"`
		Bench      string `json:"bench"`
		Sequence   uint64 `json:"sequence"`
		Lines      int    `json:"lines"`
		Gone       bool   `json:"gone"`
	}
	benches, open := []benchJSON{}, []openJSON{}
	for _, b := range v.Benches {
		benches = append(benches, benchJSON{b.Bench, b.Label, b.Own, b.Segments, b.Records, b.Head.String(), b.Proven, newWitnessJSON(b.Bench, receipts)})
	}
	for _, o := range v.Open {
		open = append(open, openJSON{o.Opened.Opens, o.Opened.Subject, o.Opened.Bench, o.Opened.Seq, o.Lines, o.Gone})
	}
	return struct {
		Records int           `json:"records"`
		Benches []benchJSON   `json:"benches"`
		Damage  []damagePlace `json:"damage"`
		Void    []damagePlace `json:"void"`
		Open    []openJSON    `json:"open"`
	}{v.Records, benches, damagePlaces(v.Damage), damagePlaces(v.Void), open}
}

func mergeLedgers(e command.Env, p *command.Places, folders []string, dryRun, asJSON bool) error {
	_, l, err := p.Open(e)
	if err != nil {
		return err
	}
	short := false
	for _, folder := range folders {
		m, err := l.Merge(folder, ledger.MergeOptions{DryRun: dryRun, Check: record.CheckElsewhere})
		if err != nil {
			return err
		}
		if asJSON {
			err = command.PrintJSON(e, mergedJSON(folder, m, dryRun))
		} else {
			printMerged(e, folder, m, dryRun)
		}
		if err != nil {
			return err
		}
		short = short || m.Short()
	}
	if short {
		return command.StatusFallsShort
	}
	return nil
}

// keepMerging merges at once and then at every distance, until it is stopped. A folder that is away, or damaged, is said
// and looked at again the next time.
func keepMerging(ctx context.Context, e command.Env, p *command.Places, folders []string, every time.Duration, asJSON bool) error {
	again := time.NewTicker(every)
	defer again.Stop()
	for {
		for _, folder := range folders {
			var short command.Status
			if err := mergeLedgers(e, p, []string{folder}, false, asJSON); err != nil && !errors.As(err, &short) {
				fmt.Fprintf(e.Stderr, "flutelog: %s: %s; it is tried again in %s\n", text.Show(folder), text.ShowLines(err.Error()), every)
			}
		}
		select {
		case <-ctx.Done():
			return nil
		case <-again.C:
		}
	}
}

func printMerged(e command.Env, folder string, m ledger.MergeReport, dryRun bool) {
	say := func(format string, args ...any) { fmt.Fprintln(e.Stdout, text.Show(fmt.Sprintf(format, args...))) }
	would := ""
	if dryRun {
		would = " would come"
	}
	for _, b := range m.Benches {
		switch {
		case b.Own && b.Ahead > 0:
			say("%s: bench %s is this bench: nothing is taken of it. %s there are not here: is this ledger an old copy?", folder, b.Bench, counted(b.Ahead, "record", "records"))
			continue
		case b.Own:
			say("%s: bench %s is this bench: nothing is taken of it", folder, b.Bench)
			continue
		}
		say("%s: bench %s (%s): %s%s", folder, b.Bench, cmp.Or(b.Label, "no name"), counted(b.Records, "new record", "new records"), would)
		var kinds []string
		for _, kind := range slices.Sorted(maps.Keys(b.Kinds)) {
			kinds = append(kinds, fmt.Sprintf("%d %s", b.Kinds[kind], kind))
		}
		if len(kinds) > 0 {
			say("  %s; from %s to %s by its own clock", strings.Join(kinds, ", "), b.First.UTC.Format(time.DateTime), b.Last.UTC.Format(time.DateTime))
		}
	}
	for _, f := range m.Forks {
		say("NOT MERGED from there on: %s. Was a card copied, and both copies written to?", f)
	}
	for _, d := range m.DamageThere {
		say("NOT MERGED from there on: damaged in %s: %s", folder, d)
	}
	for _, d := range m.DamageHere {
		say("NOT MERGED from there on: damaged in this ledger: %s", d)
	}
	for _, d := range m.Fenced {
		say("FENCED: %s: nothing is shown of %s that rests on it; all else is. \"flutelog ledger leave-out BENCH\" leaves all of a bench out", d, cmp.Or(d.Subject, "what"))
	}
}

func mergedJSON(folder string, m ledger.MergeReport, dryRun bool) any {
	type bench struct {
		Bench   string         `json:"bench"`
		Label   string         `json:"label"`
		Records int            `json:"records"`
		Kinds   map[string]int `json:"kinds"`
		Own     bool           `json:"own"`
		Ahead   int            `json:"ahead"`
	}
	out := struct {
		Folder  string        `json:"folder"`
		DryRun  bool          `json:"dry_run"`
		Benches []bench       `json:"benches"`
		Forks   []string      `json:"forks"`
		Damage  []string      `json:"damage"`
		Fenced  []damagePlace `json:"fenced"`
	}{folder, dryRun, []bench{}, []string{}, []string{}, damagePlaces(m.Fenced)}
	for _, b := range m.Benches {
		out.Benches = append(out.Benches, bench{b.Bench, b.Label, b.Records, b.Kinds, b.Own, b.Ahead})
	}
	for _, f := range m.Forks {
		out.Forks = append(out.Forks, f.String())
	}
	for _, d := range append(m.DamageThere, m.DamageHere...) {
		out.Damage = append(out.Damage, d.String())
	}
	return out
}

// mendLedger says what would be done first; what is still damaged at the end is said by its status.
func mendLedger(e command.Env, p *command.Places, choice ledger.MendOptions, yes, asJSON bool) error {
	b, l, err := p.Open(e)
	if err != nil {
		return err
	}
	mends, err := l.Mends(choice)
	if err != nil {
		return err
	}
	if yes {
		if err := l.Do(mends, choice); err != nil {
			return err
		}
	}
	dir, err := p.LedgerFolder(e, b)
	if err != nil {
		return err
	}
	v, err := ledger.Verify(dir, nil, nil)
	if err != nil {
		return err
	}
	if asJSON {
		type mendJSON struct {
			What string `json:"what"`
			How  string `json:"how"`
			Ask  bool   `json:"ask"`
			Done bool   `json:"done"`
		}
		out := []mendJSON{}
		for _, m := range mends {
			out = append(out, mendJSON{m.What, m.How, m.Ask, yes && !m.Ask})
		}
		err = command.PrintJSON(e, struct {
			Mends  []mendJSON    `json:"mends"`
			Damage []damagePlace `json:"damage"`
		}{out, damagePlaces(v.Damage)})
	} else {
		printMends(e, mends, v.Damage, yes)
	}
	if err == nil && len(v.Damage) > 0 {
		return command.StatusFallsShort
	}
	return err
}

func printMends(e command.Env, mends []ledger.Mend, left []ledger.Damage, done bool) {
	say := func(format string, args ...any) {
		fmt.Fprintln(e.Stdout, command.Wrapped(text.Show(fmt.Sprintf(format, args...)), command.LineWidth, "    "))
	}
	ready := false
	for _, m := range mends {
		switch {
		case m.Ask:
			say("  %s. %s", m.What, m.How)
		case done:
			say("done: %s: %s", m.What, m.How)
		default:
			ready = true
			say("would be done: %s: %s", m.What, m.How)
		}
	}
	switch {
	case len(left) == 0:
		say("nothing is damaged")
	case ready:
		say("Nothing has been changed. --yes does it; what is replaced is kept in the ledger's folder, under aside.")
	default:
		say("left damaged: %s; \"flutelog ledger verify\" names each", counted(len(left), "place", "places"))
	}
}
