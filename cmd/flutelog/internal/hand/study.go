package hand

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/length"
)

// studyFile holds the readings of a study that is not finished: a line each, part,value, on disk before it is acknowledged.
// The command that studies a file of repeats reads it as it is.
type studyFile struct {
	f    *os.File
	ends []int64 // behind each line
	keys []inspect.Key
}

const studyHeader = "part,value\n"

// MasterPart is what the master is called in a study's file.
const MasterPart = "master"

func partName(part int) string {
	if part == 0 {
		return MasterPart
	}
	return strconv.Itoa(part)
}

// Study takes a study of a gauge in hand, or takes up one that was stopped. path is its file, which is made where it is not
// there; it stays until the caller removes it.
func Study(c Config, s desk.Study, unit length.Unit, path string) (*Hand, error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return nil, err
	}
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, err
	}
	file := &studyFile{f: f}
	in := inspect.Inspection{Tool: inspect.Tool{ID: "study", Flutes: max(s.Parts, 1), Diameter: length.Inch}, Basis: inspect.Basis{Unit: unit}}
	if in.Readings, err = file.read(s); err != nil {
		return nil, errors.Join(fmt.Errorf("%s: %w", path, err), f.Close())
	}
	h := &Hand{Config: c, study: file, studied: &s, studyOf: in}
	h.start(desk.Plan{Rounds: 1})
	return h, nil
}

// read reads what was kept, each part's readings in their order; a line that broke off is cut away: it was never acknowledged.
func (s *studyFile) read(study desk.Study) ([]inspect.Reading, error) {
	text, err := os.ReadFile(s.f.Name())
	if err != nil {
		return nil, err
	}
	if len(text) == 0 {
		text = []byte(studyHeader)
		if _, err := s.f.Write(text); err != nil {
			return nil, err
		}
	}
	rest, ok := bytes.CutPrefix(text, []byte(studyHeader))
	if !ok {
		return nil, errors.New("it is no study; move it away")
	}
	at := int64(len(studyHeader))
	s.ends = []int64{at}
	trials := map[string]int{}
	var readings []inspect.Reading
	for n := 2; ; n++ {
		line, after, whole := bytes.Cut(rest, []byte("\n"))
		if !whole {
			break
		}
		part, value, _ := strings.Cut(string(line), ",")
		v, err := length.Parse(value, length.None)
		number := 0
		if part != MasterPart && err == nil {
			number, err = strconv.Atoi(part)
		}
		trials[part]++
		if err != nil || number < 0 || number > study.Parts || part == MasterPart && !study.Master || trials[part] > study.Trials {
			return nil, fmt.Errorf("line %d: it is of another study; finish that one, or move the file away", n)
		}
		k := study.Key(number, trials[part])
		readings = append(readings, inspect.Reading{Feature: k.Feature, Flute: k.Flute, Repeat: k.Repeat, Value: v, Text: strings.TrimSuffix(v.String(), "mm"), Unit: length.Mm})
		at += int64(len(line)) + 1
		s.ends, s.keys, rest = append(s.ends, at), append(s.keys, k), after
	}
	return readings, s.f.Truncate(at)
}

// keep keeps one line, or takes the last one back.
func (s *studyFile) keep(k desk.Keep) error {
	if k.What == desk.Read && slices.Contains(s.keys, k.Reading.Key()) { // read again
		if err := s.keep(desk.Keep{What: desk.TakenBack, Question: desk.Question{Key: k.Reading.Key()}}); err != nil {
			return err
		}
	}
	end := s.ends[len(s.ends)-1]
	switch k.What {
	case desk.Read:
		line := partName(k.Reading.Flute) + "," + k.Reading.Value.String() + "\n"
		if _, err := s.f.WriteAt([]byte(line), end); err != nil {
			return errors.Join(err, s.f.Truncate(end))
		}
		if err := s.f.Sync(); err != nil {
			return err
		}
		s.ends, s.keys = append(s.ends, end+int64(len(line))), append(s.keys, k.Reading.Key())
		return nil
	case desk.TakenBack:
		if len(s.keys) == 0 || s.keys[len(s.keys)-1] != k.Question.Key {
			return errors.New("only the last reading of a study is taken back: Backspace")
		}
		s.ends, s.keys = s.ends[:len(s.ends)-1], s.keys[:len(s.keys)-1]
		return errors.Join(s.f.Truncate(s.ends[len(s.ends)-1]), s.f.Sync())
	}
	return errors.New("a study has every reading; q stops it, and it can be taken up")
}
