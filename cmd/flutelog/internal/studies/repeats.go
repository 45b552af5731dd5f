package studies

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/study"
)

// masterPart is the part of a study that is the master.
const masterPart = "master"

// studyAims is what a one-person study is held against; nil is not.
type studyAims struct{ master, tolerance, resolution *length.Length }

func (s *gaugeStudyFlags) ofRepeats(k *studyKeeper, unit length.Unit) error {
	a, err := s.aims(k, unit)
	if err != nil {
		return err
	}
	var parts []studiedPart
	err = command.ReadFile(k.env, s.repeats, func(in io.Reader) (err error) {
		parts, err = readRepeats(in, unit)
		return err
	})
	if err != nil {
		return err
	}
	return s.judgeRepeats(k, a, parts, unit)
}

func (s *gaugeStudyFlags) aims(k *studyKeeper, unit length.Unit) (studyAims, error) {
	r := &command.Reader{Unit: unit}
	a := studyAims{r.Optional("master", s.master), r.Optional("tolerance", s.tolerance), r.Optional("resolution", s.resolution)}
	if r.Err != nil {
		return a, r.Err
	}
	if known := k.gauge.Resolution; a.resolution == nil && known > 0 {
		a.resolution = &known
	}
	if a.tolerance != nil && a.resolution == nil {
		return a, command.Usagef("--tolerance: the gauge's --resolution is needed with it")
	}
	return a, nil
}

// repeatsHeader is the first line of a file of one person's repeats.
var repeatsHeader = []string{"part", "value"}

// readRepeats reads one person's repeats from CSV with the header
//
//	part,value
//
// one reading a line, in the order in which they were taken. Values are lengths; one without a unit is in def.
// Lines that begin with # are passed over. Errors name the line.
// studyDetail is what the ledger keeps of a study of repeats beside its spread.
type studyDetail struct {
	Bias       *study.Bias      `json:"bias,omitempty"`
	Master     *length.Length   `json:"master,omitempty"` // that the bias is against
	Resolution *resolutionCheck `json:"resolution_check,omitempty"`
	Parts      []studiedPart    `json:"parts"` // what was read
}

// resolutionCheck says whether a gauge divides a tolerance into ten parts or more.
type resolutionCheck struct {
	Resolution length.Length `json:"resolution"`
	Tolerance  length.Length `json:"tolerance"`
	FineEnough bool          `json:"fine_enough"`
}

// studiedPart is one part with its readings in the order in which they were taken.
type studiedPart struct {
	Name     string          `json:"part"`
	Readings []length.Length `json:"readings"`
}

func readRepeats(r io.Reader, def length.Unit) ([]studiedPart, error) {
	in := csv.NewReader(r)
	in.Comment = '#'
	in.FieldsPerRecord = len(repeatsHeader)
	head, err := in.Read()
	if err != nil || !slices.Equal(head, repeatsHeader) {
		return nil, fmt.Errorf("line 1: want the header %s", strings.Join(repeatsHeader, ","))
	}
	var parts []studiedPart
	for {
		row, err := in.Read()
		if errors.Is(err, io.EOF) {
			return parts, nil
		}
		if err != nil {
			return nil, err
		}
		line, _ := in.FieldPos(0)
		value, err := length.Parse(row[1], def)
		if err != nil {
			return nil, fmt.Errorf("line %d: %w", line, err)
		}
		name := strings.TrimSpace(row[0])
		i := partOf(parts, name)
		if i < 0 {
			i = len(parts)
			parts = append(parts, studiedPart{Name: name})
		}
		parts[i].Readings = append(parts[i].Readings, value)
	}
}

func partOf(parts []studiedPart, name string) int {
	return slices.IndexFunc(parts, func(p studiedPart) bool { return p.Name == name })
}

// judgeRepeats works out one person's repeats, keeps the study where it is of a gauge by name, and prints it.
func (s *gaugeStudyFlags) judgeRepeats(k *studyKeeper, a studyAims, parts []studiedPart, unit length.Unit) error {
	result, err := studyRepeats(a, parts)
	if err != nil {
		return command.Usage(err)
	}
	result.keptStudy, err = k.keep(record.Study{
		SD: result.Repeatability.SD, DF: result.Repeatability.NU,
		Detail: studyDetail{result.Bias, a.master, result.Check, parts},
	})
	if err != nil {
		return err
	}
	if s.JSON {
		err = command.PrintJSON(k.env, result)
	} else {
		err = result.print(k.env, unit)
	}
	if err == nil && result.Check != nil && !result.Check.FineEnough {
		return command.StatusFallsShort
	}
	return err
}

// repeatsResult is what one person's repeats come to.
type repeatsResult struct {
	Repeatability study.Repeatability `json:"repeatability"`
	Bias          *study.Bias         `json:"bias,omitempty"`
	Check         *resolutionCheck    `json:"resolution_check,omitempty"`
	*keptStudy
}

func studyRepeats(a studyAims, parts []studiedPart) (repeatsResult, error) {
	var all [][]length.Length
	for _, p := range parts {
		all = append(all, p.Readings)
	}
	var result repeatsResult
	var err error
	if result.Repeatability, err = study.AnalyseRepeats(all...); err != nil {
		return result, err
	}
	if a.master != nil {
		i := partOf(parts, masterPart)
		if i < 0 {
			return result, fmt.Errorf("--master: no reading is of the part %q", masterPart)
		}
		bias, err := study.AnalyseBias(parts[i].Readings, *a.master)
		if err != nil {
			return result, err
		}
		result.Bias = &bias
	}
	if a.tolerance != nil {
		fine, err := study.FineEnough(*a.resolution, *a.tolerance)
		if err != nil {
			return result, err
		}
		result.Check = &resolutionCheck{Resolution: *a.resolution, Tolerance: *a.tolerance, FineEnough: fine}
	}
	return result, nil
}

func (r repeatsResult) print(e command.Env, unit length.Unit) error {
	in := &inUnit{unit: unit}
	sd := r.Repeatability
	fmt.Fprintf(e.Stdout, "one reading scatters by %s (standard deviation; 95 %% limits %s to %s, from %d degrees of freedom)\n",
		in.um(sd.SD), in.um(sd.Lower), in.um(sd.Upper), sd.NU)
	if sd.Coarse {
		fmt.Fprintln(e.Stdout, "no repeat differs from another: the scatter is below the gauge's resolution")
	}
	if b := r.Bias; b != nil {
		is := "no more than its noise"
		if b.Significant {
			is = "more than its noise; clean it, set it on the master and study it again, else have it calibrated"
		}
		fmt.Fprintf(e.Stdout, "on the master it reads off by %s (95 %% limits %s to %s): %s\n", in.um(b.Bias), in.um(b.Lower), in.um(b.Upper), is)
	}
	if c := r.Check; c != nil {
		is := "TOO COARSE"
		if c.FineEnough {
			is = "fine enough"
		}
		fmt.Fprintf(e.Stdout, "resolution %s for a tolerance of %s: %s (ten to one, common practice)\n", c.Resolution.In(unit), c.Tolerance.In(unit), is)
	}
	r.keptStudy.print(e)
	return in.err
}

// inUnit prints results of statistics as lengths and keeps the first error.
type inUnit struct {
	unit length.Unit
	err  error
}

// um prints micrometres in the unit in force.
func (u *inUnit) um(micrometres float64) string {
	l, err := length.FromMicrometres(micrometres)
	if err != nil && u.err == nil {
		u.err = err
	}
	return l.In(u.unit)
}
