package page

import (
	"net/http"
	"net/url"

	"flutelog/cmd/flutelog/internal/trends"
	"flutelog/cmd/internal/look"
	"flutelog/inspect"
	"flutelog/inspect/paper"
	"flutelog/inspect/record"
)

// trendsPage is how the bench does over time.
type trendsPage struct {
	Words  string
	Chips  []look.Chip
	Tool   string
	Charts []paper.Charted
	Damage error
}

// trends shows the trends of what was inspected: at a stage, of one wheel, of one tool.
func (s *Server) trends(w http.ResponseWriter, r *http.Request) {
	c := trends.Choice{Stage: inspect.After, Tool: r.FormValue("tool"), Wheel: r.FormValue("wheel")}
	if stage := r.FormValue("stage"); stage != "" {
		var err error
		if c.Stage, err = inspect.ParseStage(stage); err != nil {
			s.refuse(w, r, http.StatusUnprocessableEntity, err)
			return
		}
	}
	if c.Tool != "" {
		t, err := record.FindTool(s.Ledger, c.Tool)
		if err != nil && t.ID == "" {
			s.absent(w, r, c.Tool, err)
			return
		}
		c.Tool = t.ID
	}
	charts, words, err := trends.Charts(s.Ledger, s.Unit, s.Now(), c)
	if err != nil && charts == nil {
		s.refuse(w, r, statusOf(err), err)
		return
	}
	p := trendsPage{Words: words, Tool: c.Tool, Charts: charts, Damage: err}
	to := func(o trends.Choice) string {
		v := url.Values{}
		for name, value := range map[string]string{"stage": string(o.Stage), "tool": o.Tool, "wheel": o.Wheel} {
			if value != "" && value != string(inspect.After) {
				v.Set(name, value)
			}
		}
		if len(v) == 0 {
			return "/trends"
		}
		return "/trends?" + v.Encode()
	}
	for _, stage := range []inspect.Stage{inspect.After, inspect.Before} {
		p.Chips = append(p.Chips, look.Chip{Words: stage.Words(), Link: to(trends.Choice{Stage: stage, Tool: c.Tool, Wheel: c.Wheel}), Current: c.Stage == stage})
	}
	wheels, err := record.Wheels(s.Ledger)
	if err != nil && p.Damage == nil {
		p.Damage = err
	}
	if len(wheels) > 0 {
		p.Chips = append(p.Chips, look.Chip{Words: "all wheels", Link: to(trends.Choice{Stage: c.Stage, Tool: c.Tool}), Current: c.Wheel == ""})
	}
	for _, wheel := range wheels {
		p.Chips = append(p.Chips, look.Chip{Words: "wheel " + wheel, Link: to(trends.Choice{Stage: c.Stage, Tool: c.Tool, Wheel: wheel}), Current: c.Wheel == wheel})
	}
	if c.Tool != "" {
		p.Chips = append(p.Chips, look.Chip{Words: "all tools", Link: to(trends.Choice{Stage: c.Stage, Wheel: c.Wheel})})
	}
	s.show(w, r, http.StatusOK, "Trends", p.html)
}
