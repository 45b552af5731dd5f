package main

import (
	"fmt"

	"flutelog/inspect/ledger"
)

func ledgerCommands() command {
	var verify, merge struct {
		places
		head string
		json bool
	}
	return command{name: "ledger", summary: "the record itself: verify it, merge other benches' copies", sub: []command{
		{
			name: "verify", summary: "check every line of the ledger, and a printed head against it",
			example: "ledger verify",
			flags: func(f *flags) {
				f.StringVar(&verify.head, "head", "", "a head as printed on a sheet, a report or a closing line")
				f.BoolVar(&verify.json, "json", false, "print the result as JSON")
				verify.places.flags(f)
			},
			run: func(e env, f *flags) error { return verifyLedger(e, &verify.places, verify.head, verify.json) },
		},
		{
			name: "merge", args: "FOLDER…", summary: "copy other benches' records into this ledger; as often as you like",
			example: "ledger merge /media/stick/flutelog-ledger",
			flags: func(f *flags) {
				f.BoolVar(&merge.json, "json", false, "print the result as JSON")
				merge.places.flags(f)
			},
			run: func(e env, f *flags) error { return mergeLedgers(e, &merge.places, f.args, merge.json) },
		},
	}}
}

func verifyLedger(e env, p *places, head string, asJSON bool) error {
	b, err := p.readBench(e)
	if err != nil {
		return err
	}
	dir, err := p.ledgerFolder(e, b)
	if err != nil {
		return err
	}
	if head != "" {
		if _, err := ledger.ParseHead(head); err != nil {
			return usageError{fmt.Errorf("--head: %w", err)}
		}
	}
	progress := newProgress(e)
	heads := []string{}
	if head != "" {
		heads = append(heads, head)
	}
	v, err := ledger.Verify(dir, heads, func(done, total int64) {
		progress.say(func() string { return fmt.Sprintf("%d of %d MB checked", done>>20, total>>20) })
	})
	progress.end()
	if err != nil {
		return err
	}
	if asJSON {
		err = printJSON(e, verifiedJSON(v))
	} else {
		printVerified(e, v, head)
	}
	if err == nil && len(v.Damage) > 0 {
		return outcome(statusFallsShort)
	}
	return err
}

func printVerified(e env, v ledger.VerifyReport, head string) {
	switch {
	case len(v.Damage) > 0:
		fmt.Fprintf(e.stdout, "DAMAGED: %d places; %d records read as they were written\n", len(v.Damage), v.Records)
	case head != "":
		fmt.Fprintf(e.stdout, "SOUND up to and beyond the head given: %d records read as they were written\n", v.Records)
	default:
		fmt.Fprintf(e.stdout, "SOUND: %d records read as they were written\n", v.Records)
	}
	for _, d := range v.Damage {
		fmt.Fprintf(e.stdout, "  %s\n", d)
	}
	for _, d := range v.Void {
		fmt.Fprintf(e.stdout, "  void, never acknowledged: %s\n", d)
	}
	for _, b := range v.Benches {
		fmt.Fprintf(e.stdout, "bench %s (%s): %d records in %d segments, head %s\n", b.Bench, b.Label, b.Records, b.Segments, b.Head)
	}
	if head == "" {
		fmt.Fprintln(e.stdout, "A ledger cut off at the end of a line, or written anew from the first, shows only against a head")
		fmt.Fprintln(e.stdout, "that was printed before: give one with --head.")
	}
}

func verifiedJSON(v ledger.VerifyReport) any {
	type place struct {
		Segment string `json:"segment"`
		Line    int    `json:"line"`
		What    string `json:"what"`
	}
	type benchJSON struct {
		Bench    string `json:"bench"`
		Label    string `json:"label"`
		Segments int    `json:"segments"`
		Records  int    `json:"records"`
		Head     string `json:"head"`
	}
	out := struct {
		Records int         `json:"records"`
		Benches []benchJSON `json:"benches"`
		Damage  []place     `json:"damage"`
		Void    []place     `json:"void"`
	}{Records: v.Records, Benches: []benchJSON{}, Damage: []place{}, Void: []place{}}
	for _, b := range v.Benches {
		out.Benches = append(out.Benches, benchJSON{b.Bench, b.Label, b.Segments, b.Records, b.Head.String()})
	}
	for _, d := range v.Damage {
		out.Damage = append(out.Damage, place{d.Segment, d.Line, d.What})
	}
	for _, d := range v.Void {
		out.Void = append(out.Void, place{d.Segment, d.Line, d.What})
	}
	return out
}

func mergeLedgers(e env, p *places, folders []string, asJSON bool) error {
	_, l, err := p.open(e)
	if err != nil {
		return err
	}
	short := false
	for _, folder := range folders {
		m, err := l.Merge(folder, ledger.MergeOptions{})
		if err != nil {
			return err
		}
		if asJSON {
			err = printJSON(e, mergedJSON(folder, m))
		} else {
			printMerged(e, folder, m)
		}
		if err != nil {
			return err
		}
		short = short || len(m.Forks)+len(m.DamageThere)+len(m.DamageHere) > 0
	}
	if short {
		return outcome(statusFallsShort)
	}
	return nil
}

func printMerged(e env, folder string, m ledger.MergeReport) {
	for _, b := range m.Benches {
		fmt.Fprintf(e.stdout, "%s: bench %s (%s): %d new records\n", folder, b.Bench, b.Label, b.Records)
	}
	for _, f := range m.Forks {
		fmt.Fprintf(e.stdout, "NOT MERGED from there on: %s. Was a card copied, and both copies written to?\n", f)
	}
	for _, d := range m.DamageThere {
		fmt.Fprintf(e.stdout, "NOT MERGED from there on: damaged in %s: %s\n", folder, d)
	}
	for _, d := range m.DamageHere {
		fmt.Fprintf(e.stdout, "NOT MERGED from there on: damaged in this ledger: %s\n", d)
	}
}

func mergedJSON(folder string, m ledger.MergeReport) any {
	type bench struct {
		Bench   string `json:"bench"`
		Label   string `json:"label"`
		Records int    `json:"records"`
	}
	out := struct {
		Folder  string   `json:"folder"`
		Benches []bench  `json:"benches"`
		Forks   []string `json:"forks"`
		Damage  []string `json:"damage"`
	}{folder, []bench{}, []string{}, []string{}}
	for _, b := range m.Benches {
		out.Benches = append(out.Benches, bench{b.Bench, b.Label, b.Records})
	}
	for _, f := range m.Forks {
		out.Forks = append(out.Forks, f.String())
	}
	for _, d := range append(m.DamageThere, m.DamageHere...) {
		out.Damage = append(out.Damage, d.String())
	}
	return out
}
