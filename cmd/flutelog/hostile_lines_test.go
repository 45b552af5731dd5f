//go:build unix

package main

import (
	"bytes"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/pflag"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/cmd/flutelog/internal/command"
)

// hostile makes inputs that nobody means well by.
type hostile struct{ *rand.Rand }

func one[T any](h *hostile, of []T) T { return of[h.IntN(len(of))] }

// nasty are words that have broken programs. None begins with a slash: what a line writes stays in the test's folder.
var nasty = []string{
	"", " ", "-", "--", "---", "=", "NaN", "nan", "Inf", "-Inf", "+", "-0", "0", "00", "007", "1e308", "1e-400", "1e999999999",
	"0x7f", "0b1", "1_000", "½", "１２", "0,0005", "0.0005in,", ",,,,", ".", "..", "1.", ".5", "-1", "1", "2", "3", "4", "12", "13", "200", "201",
	"32768", "1000000", "2147483648", "9223372036854775807", "9223372036854775808", "-9223372036854775808", "18446744073709551616",
	"0.0000000001", "0.00000000000001mm", "360", "-360", "89.999999999", "90", "1e9mm", "9223372.036854775807mm", "99999999999999999in",
	"1in", "1mm", "1um", "0.5thou", "3tenths", "3furlongs", "in", "mm", "true", "false", "null", "{}", "[]", `"`, "'", "\\", "%s%n%d", "=1+1",
	"\x00", "\x1b[2J", "\r\n", "\n", "\t", "\xff\xfe", "\xc3\x28", "\u202e", "\u2028", "\ufeff", "日本", "ﬃ", "a/b", "../x", "'; --", "<script>alert(1)</script>",
	"EM-1", "EM-1.1", "EM-1.2", "J-1", "before", "between", "after", "simple", "guarded", "keyboard", "indicator", "2026-02-30", "2026-11-12",
	strings.Repeat("9", 4000), strings.Repeat("a", 70_000), strings.Repeat("0,", 3000), strings.Repeat("[", 20_000),
}

// goodLines are command lines that work, or nearly, for a hostile hand to change.
var goodLines = []string{
	"tool add EM-9 --diameter 0.5in --flutes 4 --material hss --helix 30 --primary-relief 8 --rake 5 --note x",
	"tool change EM-1 --primary-relief 9", "tool list --json", "tool show EM-1", "tool retire EM-9 --why worn",
	"job add J-2 --customer someone --quantity 20 --sample 3", "job list", "job show J-1", "job release J-1 --by Vale",
	"correct EM-1.1 --feature radial-runout --flute 2 --repeat 1 --value 0.0001in --by Vale --why slip",
	"wheel dress cup --note diamond", "show EM-1.1 --json", "history EM-1", "report --as readings", "report --as inspections --decimal-comma -o r.csv",
	"report --as tools --tool EM-1 --since 2026-01-01", "sheet EM-1.1 -o s.html", "tag EM-1 -o t.html", "certificate J-1 -o c.html",
	"trend --what tir --last 20", "trend --what ratio --csv", "trend --values values.txt --chart mean-range --size 2", "trend --what tir --paired --json",
	"ledger verify", "ledger merge broken", "inspect EM-1 --stage after --inspector Vale --repeats 2",
	"inspect EM-1 --stage before --readings before.csv --job J-1", "inspect EM-1 --stage after --readings after.csv --rule guarded --json",
	"inspect EM-1 --discard mistaken", "gauge ports --json", "gauge practice --take button --unit in", "gauge listen --replay gauge.rec --unit in",
	"gauge study --values values.txt --json", "gauge study --crossed crossed.csv --tolerance 5", "gauge study indicator --repeats repeats.csv --master 0.5in --bench bench.toml",
	"bench check bench.toml", "bench example", "runout --unit in --heights 0,0.0003,0.0001,-0.0002 --limit 0.0005 --json",
	"runout --sweep sweep.txt --flutes 4 --mark 1 --unit mm", "runout --heights 0,1,2,0,1,2 --repeats 2 --unit mm --angles 0,120,240 --resolution 0.001mm --permissible-error 0.002mm --json",
	"land --unit in --primary 0.012,0.012,0.026,0.012 --land 0.048,0.048,0.048,0.048", "relief --unit in --diameter 0.5 --distance 0.02 --drop 0.0023426 --form curved --motion slide --json",
	"relief --unit in --diameter 0.5 --distance 0.02 --angle 9 --heel 0.02 --primary-angle 9", "setup --unit in --angle 7 --cutter 0.5 --wheel 4 --rpm 3600 --json",
	"stock --unit in --primary 0.02 --land 0.08 --primary-angle 8 --secondary-angle 16 --rake 5 --helix 30 --division 0.002 --wear 0.012 --passes 3 --json",
	"stock --unit in --primary 0.02 --land 0.08 --primary-angle 8 --secondary-angle 16 --rake 5 --division 0.002 --passes 200 --diameter 0.5 --smallest 0.4 --learned",
	"chipload --unit in --feed-per-tooth 0.002 --heights 0,0.001,0 --angles 0,110,240 --json", "diameter --unit in --master 0.5 --master-reading 0 --heights 0,0.001,0 --vee 60 --json",
	"page --listen 127.0.0.1:0 --practice", "demo --folder demo",
}

// fileLines read a file, the first word of each, that a hostile hand has changed. The ledgers in the folder broken
// have a segment or a draft changed.
var fileLines = []string{
	"before.csv inspect EM-1 --stage before --readings before.csv", "after.csv inspect EM-1 --stage after --readings after.csv --json",
	"bench.toml bench check bench.toml", "bench.toml inspect EM-1 --stage after --readings after.csv --bench bench.toml", "bench.toml tool show EM-1 --bench bench.toml",
	"gauge.rec gauge listen --replay gauge.rec --unit in", "gauge.rec inspect EM-1 --stage after --replay gauge.rec --gauge indicator --bench bench.toml",
	"values.txt gauge study --values values.txt --json", "values.txt trend --values values.txt", "crossed.csv gauge study --crossed crossed.csv --json",
	"repeats.csv gauge study --repeats repeats.csv --master 0.5in", "sweep.txt runout --sweep sweep.txt --flutes 4 --unit mm --json",
	"script.txt gauge practice --script script.txt --unit in",
	"segment ledger verify --ledger broken", "segment report --as inspections --ledger broken", "segment report --as readings --ledger broken", "segment history EM-1 --ledger broken",
	"segment show EM-1.1 --ledger broken", "segment trend --what tir --ledger broken", "segment ledger merge broken", "segment tool add EM-8 --diameter 1in --flutes 2 --material hss --ledger broken",
	"draft inspect EM-1 --stage after --ledger broken", "draft ledger verify --ledger broken", "bench-id tool list --ledger broken",
}

const brokenFolder = "broken"

// typed is what a person types at the bench; a hostile hand changes it.
const typed = "c\nno\nno\n0.0001\n0.0002in\nr\n0.0003\nb\ns\nwhy\n?\n0.0001\n0.02\n0.08\nq\n"

// prepare writes the files that lines name, into the folder the test is in.
func (h *hostile) prepare(t *testing.T) {
	t.Helper()
	for _, name := range []string{"before", "after"} {
		text, err := scenario.ReadFile("scenario/" + name + ".csv")
		if err != nil {
			t.Fatal(err)
		}
		write(t, name+".csv", text)
	}
	write(t, "bench.toml", []byte(bench.Example))
	write(t, "gauge.rec", []byte("gauge recording 1\nwait 1ms\ngauge \"+0.0003\\r\\n\"\nwait 1ms\nbench \"?\\r\"\ngauge \"-0.0\\x000\\r\\n\"\nunplugged\ngauge \"+0.0001\\r\\n\"\n"))
	write(t, "values.txt", []byte("299.85\n299.74\n299.90\n300.07\n299.93\n299.85\n299.95\n299.98\n"))
	write(t, "crossed.csv", []byte("part,inspector,trial,value\n1,A,1,0.29\n1,A,2,0.41\n1,B,1,0.08\n1,B,2,0.25\n2,A,1,-0.56\n2,A,2,-0.68\n2,B,1,-0.47\n2,B,2,-1.22\n"))
	write(t, "repeats.csv", []byte("part,value\n1,0.1in\n1,0.1002in\n2,0.2in\n2,0.2002in\nmaster,0.5001in\nmaster,0.5003in\n"))
	write(t, "sweep.txt", []byte(strings.Repeat(strings.Repeat("0.000\n0.050\n0.100\n0.120\n0.101\n0.049\n", 4), 4)))
	write(t, "script.txt", []byte("# invented\n0.0003\n0.0001 noise\n-0.0002 late\n"))
	for _, line := range []string{
		"tool add EM-1 --diameter 0.5in --flutes 4 --material hss --primary-relief 10 --secondary-relief 20 --rake 5",
		"job add J-1 --quantity 5", "inspect EM-1 --stage before --readings before.csv", "inspect EM-1 --stage after --readings after.csv", "inspect EM-1 --stage after --repeats 1",
	} {
		a := attempt{args: strings.Fields(line), stdin: typed}
		runHere(t, &a, func() {})
		if a.status == command.StatusFailed || a.status == command.StatusUsage {
			t.Fatalf("%s", a)
		}
	}
	if err := os.CopyFS("sound", os.DirFS("ledger")); err != nil {
		t.Fatal(err)
	}
}

func write(t *testing.T, name string, text []byte) {
	t.Helper()
	if err := os.WriteFile(name, text, 0o600); err != nil {
		t.Fatal(err)
	}
}

// line returns a command line: a good one changed, or one put together from a command's flags.
func (h *hostile) line() attempt {
	a := attempt{stdin: string(h.change([]byte(typed)))}
	if h.IntN(3) == 0 {
		a.args = h.madeUp()
		return a
	}
	a.args = strings.Fields(one(h, goodLines))
	if a.args[0] == "demo" && h.IntN(100) > 0 { // takes seconds
		return h.line()
	}
	for range 1 + h.IntN(3) {
		i := h.IntN(len(a.args))
		switch h.IntN(6) {
		case 0:
			a.args[i] = h.relative(string(h.change([]byte(a.args[i]))))
		case 1:
			a.args = slices.Insert(a.args, i, one(h, nasty))
		case 2:
			if len(a.args) > 1 {
				a.args = slices.Delete(a.args, i, i+1)
			}
		default:
			a.args[max(i, 1)%len(a.args)] = one(h, nasty)
		}
	}
	return a
}

// relative is a word that names nothing outside the test's folder, were it taken for a path.
func (h *hostile) relative(word string) string {
	return strings.ReplaceAll(word, "/", "_")
}

// madeUp puts a line together from a command of the table and its flags.
func (h *hostile) madeUp() []string {
	table, args := commands, []string(nil)
	for {
		c := one(h, table)
		if c.Name == "demo" && h.IntN(100) > 0 { // takes seconds
			continue
		}
		args = append(args, c.Name)
		if c.Sub != nil {
			table = c.Sub
			continue
		}
		f := &command.Flags{FlagSet: pflag.NewFlagSet(c.Name, pflag.ContinueOnError)}
		if c.Flags != nil {
			c.Flags(f)
		}
		for range strings.Fields(c.Args) {
			args = append(args, one(h, nasty))
		}
		f.VisitAll(func(flag *pflag.Flag) {
			switch {
			case h.IntN(3) > 0:
			case flag.NoOptDefVal != "":
				args = append(args, "--"+flag.Name)
			default:
				args = append(args, "--"+flag.Name, one(h, nasty))
			}
		})
		return args
	}
}

// file changes a file and returns a line that reads it.
func (h *hostile) file(t *testing.T) attempt {
	t.Helper()
	words := strings.Fields(one(h, fileLines))
	a := attempt{args: words[1:], stdin: typed}
	name := words[0]
	path, of := "changed-"+name, name
	switch pattern := inLedger[name]; pattern {
	case "":
		for i, arg := range a.args {
			if arg == name {
				a.args[i] = path
			}
		}
	default:
		if err := os.RemoveAll(brokenFolder); err != nil {
			t.Fatal(err)
		}
		if err := os.CopyFS(brokenFolder, os.DirFS("sound")); err != nil {
			t.Fatal(err)
		}
		found, err := filepath.Glob(filepath.Join(brokenFolder, pattern))
		if err != nil || len(found) == 0 {
			t.Fatalf("nothing is at %s, %v", pattern, err)
		}
		path, of = found[0], found[0]
	}
	text, err := os.ReadFile(of)
	if err != nil {
		t.Fatal(err)
	}
	for range 1 + h.IntN(3) {
		text = h.change(text)
	}
	write(t, path, text)
	return a
}

// inLedger says which files of a ledger are changed.
var inLedger = map[string]string{"segment": "*/*1.jsonl", "draft": "open/*.jsonl", "bench-id": "bench"}

var digits = regexp.MustCompile(`[0-9][0-9.]*`)

// change changes text in one of the ways in which files are damaged or forged.
func (h *hostile) change(text []byte) []byte {
	text = slices.Clone(text)
	if len(text) == 0 {
		return []byte(one(h, nasty))
	}
	i := h.IntN(len(text))
	j := min(i+1+h.IntN(20), len(text))
	lines := bytes.SplitAfter(text, []byte("\n"))
	switch h.IntN(9) {
	case 0:
		text[i] ^= 1 << h.IntN(8)
	case 1:
		text[i] = "\x00\xff,.\"'-+=\n\r\t;0\\{"[h.IntN(16)]
	case 2:
		text = slices.Delete(text, i, j)
	case 3:
		text = slices.Insert(text, i, text[i:j]...)
	case 4:
		text = slices.Insert(text, i, []byte(one(h, nasty))...)
	case 5:
		text = text[:i]
	case 6: // a number in it
		if all := digits.FindAllIndex(text, -1); all != nil {
			at := one(h, all)
			text = slices.Replace(text, at[0], at[1], []byte(one(h, nasty))...)
		}
	case 7: // a line elsewhere
		from, to := h.IntN(len(lines)), h.IntN(len(lines))
		lines[from], lines[to] = lines[to], lines[from]
		text = bytes.Join(lines, nil)
	case 8: // a line many times
		n := h.IntN(len(lines))
		lines[n] = bytes.Repeat(lines[n], 2+h.IntN(300))
		text = bytes.Join(lines, nil)
	}
	return text
}
