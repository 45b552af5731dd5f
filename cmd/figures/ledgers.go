//go:build linux

package main

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
)

// Inspections of each tool, so that a larger ledger has more tools.
const (
	ofEach     = 10
	ofEachMany = 100
)

// work is how long each kind of work on one ledger takes.
type work struct {
	report, verify, history time.Duration
	memory                  float64 // MiB that the report has at most
}

// yardsticks is how long other programs take for the same.
type yardsticks struct{ sqlite, sha256sum time.Duration }

// ledgers measures the work on ledgers of growing size: each figure on the largest, and how it grows over all.
func ledgers(b *bench) ([]figure, error) {
	model, err := newModel(filepath.Join(b.dir, "model"))
	if err != nil {
		return nil, err
	}
	sizes := []int{10_000, 100_000, 1_000_000} // readings
	if b.quick {
		sizes = sizes[:2]
	}
	var all []work
	var beside yardsticks
	for i, n := range sizes {
		dir := filepath.Join(b.dir, fmt.Sprint(n))
		if err := model.fill(filepath.Join(dir, "ledger"), n/model.readings, ofEach); err != nil {
			return nil, err
		}
		w, err := b.work(dir)
		if err != nil {
			return nil, err
		}
		all = append(all, w)
		if i == len(sizes)-1 {
			if beside, err = b.beside(dir); err != nil {
				return nil, err
			}
		}
		if err := os.RemoveAll(dir); err != nil {
			return nil, err
		}
	}
	many, err := b.many(model)
	return slices.Concat(largest(sizes[len(sizes)-1], all[len(all)-1], all[len(all)-2], beside), growth(sizes, all), many), err
}

// work measures the program on one ledger. The report stays in the ledger's folder.
func (b *bench) work(dir string) (w work, err error) {
	at := filepath.Join(dir, "ledger")
	if w.verify, err = fastestChild(b.binary, "ledger", "verify", "--ledger", at); err != nil {
		return w, err
	}
	if w.report, err = fastestChild(b.binary, "report", "--as", "readings", "-o", filepath.Join(dir, "readings.csv"), "--ledger", at); err != nil {
		return w, err
	}
	peak, err := residentWhileRunning(b.binary, "report", "--as", "readings", "-o", filepath.Join(dir, "readings.csv"), "--ledger", at)
	if err != nil {
		return w, err
	}
	w.memory = float64(peak) / 1024
	w.history, err = b.history(at, ofEach)
	return w, err
}

// many measures what looks at a little of many inspections, and how its memory grows from a tenth of them on.
func (b *bench) many(m model) ([]figure, error) {
	const inspections, most = 100_000, 2 * time.Second
	var read, took time.Duration
	var memory, reports []float64 // MiB
	sizes := []int{inspections / 10, inspections}
	for _, n := range sizes {
		dir := filepath.Join(b.dir, "many")
		if err := m.fill(dir, n, ofEachMany); err != nil {
			return nil, err
		}
		var err error
		if read, err = b.history(dir, ofEachMany); err != nil {
			return nil, err
		}
		trend := []string{"trend", "--what", "tir", "--ledger", dir}
		if took, err = fastestChild(b.binary, trend...); err != nil {
			return nil, err
		}
		peak, err := residentWhileRunning(b.binary, trend...)
		if err != nil {
			return nil, err
		}
		memory = append(memory, float64(peak)/1024)
		if peak, err = residentWhileRunning(b.binary, "report", "--as", "readings", "-o", os.DevNull, "--ledger", dir); err != nil {
			return nil, err
		}
		reports = append(reports, float64(peak)/1024)
		if err := os.RemoveAll(dir); err != nil {
			return nil, err
		}
	}
	var listed, boards []time.Duration
	for _, n := range sizes {
		list, board, err := b.list(m, n)
		if err != nil {
			return nil, err
		}
		listed, boards = append(listed, list), append(boards, board)
	}
	tools := inspections / ofEach
	return []figure{
		{fmt.Sprintf("history of one tool, a whole process, %d of %d inspections", ofEachMany, inspections), short(read), "-", "15ms", read <= 15*time.Millisecond},
		{fmt.Sprintf("trend over %d inspections", inspections), short(took), "-", short(most), took <= most},
		{"resident memory of that", fmt.Sprintf("%.1f MiB", memory[1]), fmt.Sprintf("over %d inspections %.1f MiB", sizes[0], memory[0]), "1.2 times", memory[1] <= 1.2*memory[0]},
		{fmt.Sprintf("resident memory of a report of %d readings, all ruled on", inspections*m.readings), fmt.Sprintf("%.1f MiB", reports[1]), fmt.Sprintf("over %d readings %.1f MiB", sizes[0]*m.readings, reports[0]), "1.5 times", reports[1] <= 1.5*reports[0]},
		{fmt.Sprintf("tool list with standings, %d tools of %d inspections", tools, inspections), short(listed[1]), "-", "100ms", listed[1] <= 100*time.Millisecond},
		{fmt.Sprintf("board, %d tools of %d inspections", tools, inspections), short(boards[1]), fmt.Sprintf("%d tools %s", tools/10, short(boards[0])), "100ms", boards[1] <= 100*time.Millisecond},
		{"growth exponent of the board, over those", fmt.Sprintf("%.2f", exponent(sizes, boards)), "-", "1.1", exponent(sizes, boards) <= 1.1},
	}, nil
}

// list measures the listing of many tools with how each stands, once their index is kept, and the board over them.
func (b *bench) list(m model, inspections int) (list, board time.Duration, err error) {
	dir := filepath.Join(b.dir, "list")
	defer os.RemoveAll(dir)
	if err := m.fill(dir, inspections, ofEach); err != nil {
		return 0, 0, err
	}
	if list, err = fastestChild(b.binary, "tool", "list", "--ledger", dir); err != nil {
		return 0, 0, err
	}
	board, err = fastestChild(b.binary, "board", "--ledger", dir)
	return list, board, err
}

// fastestChild is the fastest of several runs: what the machine does when nothing else runs on it.
func fastestChild(name string, args ...string) (time.Duration, error) {
	fastest := time.Hour
	for range 3 {
		took, err := child(name, args...)
		if err != nil {
			return 0, err
		}
		fastest = min(fastest, took)
	}
	return fastest, nil
}

// history measures the program telling a tool's life, which has so many inspections.
func (b *bench) history(dir string, ofTool int) (time.Duration, error) {
	l, err := ledger.Open(dir, ledger.Options{})
	if err != nil {
		return 0, err
	}
	t, err := record.FindTool(l, toolName(0))
	if err != nil {
		return 0, err
	}
	if n := len(t.Inspections); n < ofTool {
		return 0, fmt.Errorf("history of %d inspections, want %d or more", n, ofTool)
	}
	return fastestChild(b.binary, "history", t.ID, "--ledger", dir)
}

// beside measures other programs at the same work: sqlite3 exporting the rows of the report, and sha256sum over the
// ledger's files. One that is not installed takes 0.
func (b *bench) beside(dir string) (y yardsticks, err error) {
	files, err := filepath.Glob(filepath.Join(dir, "ledger", "*", "*.jsonl"))
	if err != nil {
		return y, err
	}
	if _, err := exec.LookPath("sha256sum"); err == nil {
		if y.sha256sum, err = fastestChild("sha256sum", files...); err != nil {
			return y, err
		}
	}
	if _, err := exec.LookPath("sqlite3"); err != nil {
		return y, nil
	}
	db := filepath.Join(dir, "rows.db")
	rows := filepath.Join(dir, "rows.csv")
	if err := withoutCarriageReturns(filepath.Join(dir, "readings.csv"), rows); err != nil {
		return y, err
	}
	if _, err := child("sqlite3", db, ".mode csv", ".import "+rows+" readings"); err != nil {
		return y, err
	}
	y.sqlite, err = fastestChild("sqlite3", "-header", "-csv", db, ".output "+filepath.Join(dir, "exported.csv"), "select * from readings")
	return y, err
}

// withoutCarriageReturns copies a CSV so that sqlite3 takes it as text whose lines end as it writes them.
func withoutCarriageReturns(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.Create(to)
	if err != nil {
		return err
	}
	defer out.Close()
	w := bufio.NewWriter(out)
	for lines := bufio.NewReader(in); ; {
		line, err := lines.ReadString('\n')
		w.WriteString(strings.TrimSuffix(strings.TrimSuffix(line, "\n"), "\r") + "\n")
		if err == io.EOF {
			return w.Flush()
		}
		if err != nil {
			return err
		}
	}
}

func largest(n int, w, tenth work, y yardsticks) []figure {
	report, verify := times(w.report, y.sqlite), times(w.verify, y.sha256sum)
	return []figure{
		{fmt.Sprintf("report of %d readings as they stand", n), short(w.report) + report.text, "sqlite3 exporting the rows " + short(y.sqlite), "1.3 times", report.known && report.ratio <= 1.3},
		{"resident memory of that", fmt.Sprintf("%.1f MiB", w.memory), fmt.Sprintf("over %d readings %.1f MiB", n/10, tenth.memory), "1.5 times", w.memory <= 1.5*tenth.memory},
		{fmt.Sprintf("verify of %d readings", n), short(w.verify) + verify.text, "sha256sum of the files " + short(y.sha256sum), "2 times", verify.known && verify.ratio <= 2},
	}
}

// ratio is how often a yardstick goes into a figure; not known where its program is missing.
type ratio struct {
	ratio float64
	known bool
	text  string
}

func times(took, yardstick time.Duration) ratio {
	if yardstick == 0 {
		return ratio{}
	}
	r := took.Seconds() / yardstick.Seconds()
	return ratio{r, true, fmt.Sprintf(", %.2f times", r)}
}

// growth is how the work grows with the readings: reports and verification in proportion at the most, a tool's
// history hardly.
func growth(sizes []int, all []work) []figure {
	over := fmt.Sprintf("%d to %d readings", sizes[0], sizes[len(sizes)-1])
	var figures []figure
	for _, g := range []struct {
		name string
		of   func(work) time.Duration
		most float64
	}{
		{"report", func(w work) time.Duration { return w.report }, 1.1},
		{"verify", func(w work) time.Duration { return w.verify }, 1.1},
		{"history", func(w work) time.Duration { return w.history }, 0.2},
	} {
		var took []time.Duration
		var each []string
		for _, w := range all {
			took = append(took, g.of(w))
			each = append(each, short(g.of(w)))
		}
		e := exponent(sizes, took)
		figures = append(figures, figure{"growth exponent of " + g.name + ", " + over, fmt.Sprintf("%.2f", e), strings.Join(each, ", "), fmt.Sprintf("%.1f", g.most), e <= g.most})
	}
	return figures
}
