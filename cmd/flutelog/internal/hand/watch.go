package hand

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"flutelog/inspect/desk"
	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
	"flutelog/inspect/text"
)

// How often is looked whether another place wants the inspection, and how many times seldomer whether the tool was locked there.
const (
	watchEvery = 500 * time.Millisecond
	locksEvery = 4
)

// watch tells the desk what other devices and processes do to the tool in hand: another place wants the inspection, or the tool
// was locked by what was recorded there or came from another bench. Known are the locks that stood when it was taken in hand.
func (h *Hand) watch(inspection, tool string, known []record.StandingLock) {
	tick := time.NewTicker(watchEvery)
	defer tick.Stop()
	for n := 1; ; n++ {
		select {
		case <-h.ctx.Done():
			return
		case <-tick.C:
		}
		if who, yes := h.wantedBy(inspection); yes {
			h.Do(desk.Other{At: h.Now(), What: desk.TakenElsewhere, Who: text.Show(who)})
			continue
		}
		if n%locksEvery != 0 {
			continue
		}
		if h.overtaken() {
			h.Do(desk.Other{At: h.Now(), What: desk.BegunElsewhere})
			continue
		}
		for _, lock := range h.locks(tool) {
			if lock.Inspection != inspection && !slices.ContainsFunc(known, func(k record.StandingLock) bool { return k.Ref == lock.Ref }) {
				known = append(known, lock)
				h.Do(desk.Other{At: h.Now(), What: desk.LockedElsewhere, Who: text.Show(lock.By)})
			}
		}
	}
}

// wantedBy says whether another place asks for the inspection, and who; it asks no more then. One of which nothing is recorded is nobody's
// to ask for: another of its name is meant.
func (h *Hand) wantedBy(inspection string) (who string, yes bool) {
	if !h.Recorded() {
		return "", false
	}
	return h.Ledger.Wanted(inspection)
}

// overtaken says whether the tool was inspected elsewhere since, while nothing is recorded here.
func (h *Hand) overtaken() bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.w.Overtaken()
}

// locks are those that stand on the tool in hand; none where the ledger cannot be read just now.
func (h *Hand) locks(tool string) []record.StandingLock {
	t, err := record.FindTool(h.Ledger, tool)
	if err != nil {
		return nil
	}
	return t.Locks
}

// patience is how long the place that has an inspection is waited for when it is taken from there.
const patience = 10 * time.Second

// TakeOver takes an inspection up from wherever it is in hand: that place is asked to let go of it, says so to whoever sits
// there, and what was read there is kept. who is told there.
func TakeOver(c Config, inspection, who string) (h *Hand, lost []ledger.Damage, err error) {
	if err := c.Ledger.Want(inspection, who); err != nil {
		return nil, nil, err
	}
	defer c.Ledger.Wanted(inspection) // it asks no more, whatever came of it
	late := time.After(patience)
	for {
		h, lost, err = TakeUp(c, inspection)
		if !errors.Is(err, ledger.ErrLocked) {
			return h, lost, err
		}
		select {
		case <-late:
			return nil, nil, fmt.Errorf("%s: the place that has it does not let go of it; stop it there with q: %w", inspection, err)
		case <-time.After(watchEvery / 5):
		}
	}
}
