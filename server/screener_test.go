package server_test

import (
	"database/sql"
	"os"
	"path/filepath"
	"testing"
	"time"

	"wayfall/server"
	"wayfall/sync/op"
)

// pushMany hands in so many reports, each with one animal, in runs of 20.
func pushMany(m *museum, reports int) {
	m.t.Helper()
	cal := m.phone("cal", 1)
	for i := 0; i < reports; i += 20 {
		var ops [][]byte
		for n := i; n < min(i+20, reports); n++ {
			ops = append(ops, cal.save(groups(m.t, op.ID{byte(n), byte(n >> 8), 1}, find(nil), op.ID{byte(n), byte(n >> 8), 2})...))
		}
		cal.push(ops...)
	}
}

// verdicts returns how many verdicts of the server stand in the log of a
// folder, without asking a server.
func verdicts(t *testing.T, folder string) (n int) {
	t.Helper()
	db, err := sql.Open("sqlite3", "file:"+filepath.Join(folder, "wayfall.db")+"?_query_only=1")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	rows, err := db.Query(`SELECT wire FROM op`)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	for rows.Next() {
		var wire []byte
		if err := rows.Scan(&wire); err != nil {
			t.Fatal(err)
		}
		o, err := op.Decode(wire)
		if err != nil {
			t.Fatal(err)
		}
		for _, g := range o.On {
			if o.Actor == "server" && g.Acts[0].Field == "verdicts" {
				n++
			}
		}
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return n
}

func inFolder(folder string) func(*server.Config) {
	return func(cfg *server.Config) { cfg.Folder = folder }
}

// TestACrashBeforeScreeningLosesNoVerdict takes a copy of the files as a power
// cut would leave them, right after the last push was answered.
func TestACrashBeforeScreeningLosesNoVerdict(t *testing.T) {
	const reports = 400
	folder, left := t.TempDir(), t.TempDir()
	m := open(t, inFolder(folder))
	pushMany(m, reports)
	for _, name := range []string{"wayfall.db", "wayfall.db-wal"} {
		b, err := os.ReadFile(filepath.Join(folder, name))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(left, name), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("SHOW %d reports pushed, %d screened when the power went", reports, verdicts(t, left))
	again := open(t, inFolder(left))
	if got := verdicts(t, left); got != reports {
		t.Errorf("after the restart: got %d verdicts, want one for each of %d reports", got, reports)
	}
	again.as("gwen").get("/v1/reports")
	if got := verdicts(t, left); got != reports {
		t.Errorf("asking after them: got %d verdicts, want no more than the %d", got, reports)
	}
}

// TestWhatWasPushedIsScreenedWithoutBeingAskedFor asks the server nothing.
func TestWhatWasPushedIsScreenedWithoutBeingAskedFor(t *testing.T) {
	folder := t.TempDir()
	m := open(t, inFolder(folder))
	pushMany(m, 60)
	for range 400 {
		if verdicts(t, folder) == 60 {
			return
		}
		time.Sleep(25 * time.Millisecond)
	}
	t.Errorf("10 s after the last push: got %d verdicts, want 60", verdicts(t, folder))
}

// TestNobodySeesAReportBeforeItsVerdict asks right behind the push.
func TestNobodySeesAReportBeforeItsVerdict(t *testing.T) {
	m := open(t, nil)
	pushMany(m, 100)
	n := 0
	for _, e := range m.phone("ana", 2).pull() {
		o, err := op.Decode(e.Wire)
		if err != nil {
			t.Fatal(err)
		}
		for _, g := range o.On {
			if o.Actor == "server" && g.Acts[0].Field == "verdicts" {
				n++
			}
		}
	}
	if n != 100 {
		t.Errorf("pulled %d verdicts of the server, want 100", n)
	}
}
