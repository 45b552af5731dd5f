package hand

import (
	"errors"
	"fmt"

	"flutelog/inspect/desk"
)

// Play gives a recording to the inspection in hand, as fast as it goes. It is an error where the conversation ended before
// the recording did: it is then not the same conversation.
func (h *Hand) Play(r desk.Recording, clock func(desk.Event)) error {
	for i, e := range r.Events {
		select {
		case <-h.done:
			return fmt.Errorf("the conversation ended %d events before its recording", len(r.Events)-i)
		default:
		}
		if clock != nil {
			clock(e)
		}
		h.Do(e)
		if len(h.takers) == 0 {
			h.wg.Wait() // until what the desk was told later has been told
		}
	}
	select {
	case <-h.done:
		return nil
	default:
		return errors.New("the recording ended before the conversation did")
	}
}
