package report

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"flutelog/inspect/export"
)

// loaded writes the reports and the tables of an invented ledger into a folder.
func loaded(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	l := inventedTools(t, 8)
	_, files := described(t, func(kind Kind, format Format) []byte {
		var out bytes.Buffer
		if err := writeKind(&out, l, kind, format); err != nil {
			t.Fatal(err)
		}
		return out.Bytes()
	}, false)
	var all []export.CSV
	for _, kind := range []Kind{ReadingRows, InspectionRows, ToolRows} {
		all = append(all, export.CSV{Kind: string(kind), Columns: Columns(kind)})
	}
	tables, err := export.SQL(all)
	if err != nil {
		t.Fatal(err)
	}
	files["tables.sql"] = []byte(tables)
	for name, content := range files {
		if err := os.WriteFile(filepath.Join(dir, name), content, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// What a database makes of the reports, loaded as README says: numbers are numbers, ids and digits of the gauge text.
const asked = "select count(*), sum(value)*1000000, min(as_read), max(tool), count(distinct read_at) from readings where flute > 1 and inspection like 'EM-_.2'"

// Of the second inspections of four tools there are 22 readings each of flutes 2 to 4; reading n of inspection i is n x i
// nanometres. The n that are no multiple of 4 come to 435 - 112 = 323, the i to 4 + 5 + 6 + 7 = 22; 7106 nm are 279.7638
// millionths of an inch, less what the ninth decimal of each value leaves out.
const answer = "88|279.76"

func TestInSQLite(t *testing.T) {
	if _, err := exec.LookPath("sqlite3"); err != nil {
		if os.Getenv("FLUTELOG_TEST_NEEDS_ALL") != "" {
			t.Fatal("no sqlite3 here, and it is required")
		}
		t.Skip("no sqlite3 here to load the report into")
	}
	cmd := exec.Command("sqlite3", "shop.db", ".read tables.sql", ".import --csv --skip 1 tools.csv tools", ".import --csv --skip 1 inspections.csv inspections",
		".import --csv --skip 1 readings.csv readings", asked)
	cmd.Dir = loaded(t)
	out, err := cmd.CombinedOutput()
	if err != nil || !strings.HasPrefix(string(out), answer) || !strings.HasSuffix(string(out), "|0.00010|EM-3|4\n") {
		t.Errorf("got %s, %v", out, err)
	}
}

// FLUTELOG_POSTGRES is what psql is told to connect to, such as "host=/run/postgresql dbname=scratch"; the tables are made
// in a schema that lasts as long as the connection.
func TestInPostgreSQL(t *testing.T) {
	server := os.Getenv("FLUTELOG_POSTGRES")
	if server == "" {
		t.Skip("FLUTELOG_POSTGRES does not name a database to load the report into")
	}
	cmd := exec.Command("psql", server, "-X", "-q", "-t", "-A", "-v", "ON_ERROR_STOP=1", "-c", "set search_path to pg_temp", "-f", "tables.sql",
		"-c", `\copy tools from tools.csv (format csv, header match)`, "-c", `\copy inspections from inspections.csv (format csv, header match)`,
		"-c", `\copy readings from readings.csv (format csv, header match)`, "-c", asked)
	cmd.Dir = loaded(t)
	out, err := cmd.CombinedOutput()
	if err != nil || !strings.HasPrefix(string(out), answer) || !strings.HasSuffix(string(out), "|0.00010|EM-3|4\n") {
		t.Errorf("got %s, %v", out, err)
	}
}
