package studies

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/statistics"
	"flutelog/inspect/study"
)

func holdingNames() []string {
	var names []string
	for _, h := range inspect.Holdings {
		names = append(names, string(h))
	}
	return names
}

// ofHolding studies a kind of holding: how far off centre a tool comes to sit. Where --held says which kind it is, the study is
// kept, and used for tools that are held so.
func (s *gaugeStudyFlags) ofHolding(k *studyKeeper, unit length.Unit) error {
	if err := without("holding", map[string]string{"master": s.master, "tolerance": s.tolerance, "resolution": s.resolution}); err != nil {
		return err
	}
	if s.held != "" && !slices.Contains(holdingNames(), s.held) {
		return command.Usagef("--held %q: want %s", s.held, strings.Join(holdingNames(), ", "))
	}
	var rounds [][]length.Length
	err := command.ReadFile(k.env, s.holding, func(in io.Reader) (err error) {
		rounds, err = readSeats(in, unit)
		return err
	})
	if err != nil {
		return err
	}
	gauge := statistics.Repeatability{Micrometres: k.gauge.Repeatability.Micrometres(), DF: k.gauge.Studied}
	h, err := study.AnalyseHolding(rounds, gauge)
	if err != nil {
		return command.Usage(fmt.Errorf("%s: %w", s.holding, err))
	}
	var kept *keptStudy
	if s.held != "" {
		if err := k.bench.CheckInspector(k.inspector); err != nil {
			return command.Usage(err)
		}
		l, err := k.places.OpenLedger(k.env, k.bench)
		if err != nil {
			return err
		}
		r, err := record.SaveSeating(l, inspect.Holding(s.held), record.Study{
			Date: k.env.Now().UTC().Format(time.DateOnly), Who: k.inspector, SD: h.SD, DF: h.NU, Detail: map[string]any{"holding": h, "rounds": rounds},
		})
		if err != nil {
			return err
		}
		kept = &keptStudy{Sequence: r.Seq, Head: r.Head().String()}
	}
	if s.JSON {
		return command.PrintJSON(k.env, struct {
			study.Holding
			Held string `json:"held,omitempty"`
			*keptStudy
		}{h, s.held, kept})
	}
	in := &inUnit{unit: unit}
	fmt.Fprintf(k.env.Stdout, "seated %d times, the tool comes to sit off centre by %s per axis (standard deviation; 95 %% limits %s to %s, from %d degrees of freedom)\n",
		h.Seats, in.um(h.SD), in.um(h.Lower), in.um(h.Upper), h.NU)
	if h.Noise {
		fmt.Fprintln(k.env.Stdout, "no more shows than the noise of the readings could hide")
	}
	if kept != nil {
		fmt.Fprintf(k.env.Stdout, "kept for tools held in the %s and used from now on: record %d, head %s\n", s.held, kept.Sequence, kept.Head)
	}
	return in.err
}

var seatsHeader = []string{"seat", "flute", "value"}

// readSeats reads the rounds of a study of the holding from CSV with the header
//
//	seat,flute,value
//
// Seats and flutes are numbered from 1; every seat has every flute once. Values are lengths; one without a unit is in def.
// Errors name the line.
func readSeats(r io.Reader, def length.Unit) ([][]length.Length, error) {
	in := csv.NewReader(r)
	in.Comment = '#'
	in.FieldsPerRecord = len(seatsHeader)
	in.TrimLeadingSpace = true
	head, err := in.Read()
	if err != nil || !slices.Equal(head, seatsHeader) {
		return nil, fmt.Errorf("line 1: want the header %s", strings.Join(seatsHeader, ","))
	}
	read := map[[2]int]length.Length{}
	seats, flutes := 0, 0
	for {
		row, err := in.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		line, _ := in.FieldPos(0)
		var at [2]int
		for i := range at {
			if at[i], err = strconv.Atoi(strings.TrimSpace(row[i])); err != nil || at[i] < 1 || at[i] > 1000 {
				return nil, fmt.Errorf("line %d: %s %q: want a whole number from 1 to 1000", line, seatsHeader[i], row[i])
			}
		}
		if _, twice := read[at]; twice {
			return nil, fmt.Errorf("line %d: seat %d, flute %d is given twice", line, at[0], at[1])
		}
		if read[at], err = length.Parse(row[2], def); err != nil {
			return nil, fmt.Errorf("line %d: %w", line, err)
		}
		seats, flutes = max(seats, at[0]), max(flutes, at[1])
	}
	if len(read) < seats*flutes {
		for seat := range seats {
			for flute := range flutes {
				if _, ok := read[[2]int{seat + 1, flute + 1}]; !ok {
					return nil, fmt.Errorf("seat %d, flute %d was not read", seat+1, flute+1)
				}
			}
		}
	}
	rounds := make([][]length.Length, seats)
	for at, l := range read {
		if rounds[at[0]-1] == nil {
			rounds[at[0]-1] = make([]length.Length, flutes)
		}
		rounds[at[0]-1][at[1]-1] = l
	}
	return rounds, nil
}
