package session

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
)

// KindTool is the kind of the record that adds, changes or retires a tool.
const KindTool = "tool"

// ErrNoTool says that the ledger holds no tool of an id.
var ErrNoTool = errors.New("no such tool in the ledger")

// SaveTool records a tool as it now stands: added, changed or retired.
func SaveTool(l *ledger.Ledger, t inspect.Tool) (ledger.Record, error) {
	if err := t.Check(); err != nil {
		return ledger.Record{}, err
	}
	return save(l, KindTool, ToolSubject(t.ID), t)
}

// FindTool returns a tool as it stands in the ledger, or ErrNoTool.
func FindTool(l *ledger.Ledger, id string) (inspect.Tool, error) {
	for r, err := range l.History(ToolSubject(id)) {
		if err != nil {
			return inspect.Tool{}, fmt.Errorf("tool %q: %w", id, err)
		}
		if r.Kind == KindTool {
			var t inspect.Tool
			err := json.Unmarshal(r.Body, &t)
			return t, err
		}
	}
	return inspect.Tool{}, fmt.Errorf("tool %q: %w", id, ErrNoTool)
}

// Tools returns every tool of the ledger, by id.
func Tools(l *ledger.Ledger) ([]inspect.Tool, error) {
	subjects, err := l.Subjects(ToolSubject(""))
	if err != nil {
		return nil, err
	}
	var tools []inspect.Tool
	for _, subject := range subjects {
		t, err := FindTool(l, strings.TrimPrefix(subject, ToolSubject("")))
		if err != nil {
			return nil, err
		}
		tools = append(tools, t)
	}
	return tools, nil
}
