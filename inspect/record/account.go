package record

import (
	"slices"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
)

// Account is an inspection with its tool, and with the records that what stands of both rests on.
type Account struct {
	Inspection
	Of    Tool
	First ledger.Record   // the tool's first record
	Rests []ledger.Record // the inspection's own, and those that the tool's standing rests on, in the order of the ledger
}

// FindAccount returns the account of a closed inspection. Errors are those of Find.
func FindAccount(l Source, id string) (Account, error) {
	t, _, in, err := find(l, id)
	if err != nil {
		return Account{}, err
	}
	a := Account{Inspection: in, Of: t.Tool, First: t.facts[0].Record}
	refs := []ledger.Ref{in.Record.Ref(), t.Decided.Ref}
	for _, c := range in.Corrections {
		refs = append(refs, c.Record.Ref())
	}
	for _, r := range in.Rulings {
		refs = append(refs, r.Ref)
	}
	for _, l := range t.Locks {
		refs = append(refs, l.Ref)
	}
	for _, r := range t.Recalls {
		refs = append(refs, r.Ref())
	}
	for _, x := range t.facts {
		rests := slices.Contains(refs, x.Ref())
		switch b := x.body.(type) {
		case *Ruling:
			rests = rests || b.Word == Withdraw
		case *inspect.Tool:
			rests = rests || b.Retired != ""
		}
		if rests {
			a.Rests = append(a.Rests, x.Record)
		}
	}
	return a, nil
}
