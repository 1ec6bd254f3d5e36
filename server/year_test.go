package server_test

import (
	"archive/zip"
	"bytes"
	"fmt"
	"image"
	"image/png"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wayfall/permits"
	"wayfall/server"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

const yearOf2025 = "/v1/permits/SW-MI-SALV/years/2025"

// files asks for every paper, so that each is held to the description.
func files(t *testing.T, m *museum) {
	desmond := m.as("desmond")
	for _, form := range []string{".pdf", ".xlsx", ".pdf?paper=letter", ".csv?columns=short", ".xlsx?columns=date,tag,number", "?as_of=5", ".csv?as_of=5"} {
		expect(t, form, desmond.get(yearOf2025+form), 200)
	}
	for _, wrong := range []string{".csv?columns=species,moon_phase", ".pdf?paper=a3", "?columns=short", "?as_of=yesterday", "?as_of=999999", "?as_of=2999-01-01T00:00:00Z", "?as_of=0"} {
		if p := problemOf(t, wrong, desmond.get(yearOf2025+wrong), 422); len(p.Errors) == 0 {
			t.Errorf("%s: the refusal points nowhere", wrong)
		}
	}
	for _, form := range []string{"", ".csv", ".pdf", ".xlsx", ".pdf?paper=letter", ".csv?columns=short", "?as_of=5", ".pdf?as_of=5"} {
		expect(t, "the institution"+form, desmond.get("/v1/years/2025"+form), 200)
	}
	problemOf(t, "the institution's columns of a page", desmond.get("/v1/years/2025?columns=short"), 422)
	problemOf(t, "the institution in no year", desmond.get("/v1/years/20x5"), 404)
	problemOf(t, "the institution's year for a salvager", m.as("cal").get("/v1/years/2025"), 403)
	printedHead(t, m)
	problemOf(t, "a year before anything", desmond.get(yearOf2025+"?as_of=1999-01-01T00:00:00Z"), 404)
	problemOf(t, "no year", desmond.get("/v1/permits/SW-MI-SALV/years/20x5.pdf"), 404)
	expect(t, "bundle", desmond.get("/v1/permits/SW-MI-SALV/bundle?from=2025-01-01&to=2025-12-31"), 200)
	problemOf(t, "bundle of no day", desmond.get("/v1/permits/SW-MI-SALV/bundle?from=2025-02-31"), 422)
	problemOf(t, "bundle backwards", desmond.get("/v1/permits/SW-MI-SALV/bundle?from=2025-03-01&to=2025-02-01"), 422)
	problemOf(t, "bundle of no permit", desmond.get("/v1/permits/NONE/bundle"), 404)
	problemOf(t, "bundle for a salvager", m.as("cal").get("/v1/permits/SW-MI-SALV/bundle"), 403)
	feeds(t, m)
}

// printedHead asks for the head that a report was printed with.
func printedHead(t *testing.T, m *museum) {
	t.Helper()
	desmond := m.as("desmond")
	csv := string(expect(t, "year as of 5", desmond.get("/v1/years/2025.csv?as_of=5"), 200).body)
	printed := csv[strings.LastIndex(strings.TrimSpace(csv[:strings.Index(csv, "\r\npaper: ")]), ",")+1 : strings.Index(csv, "\r\npaper: ")]
	var got struct {
		LSN      uint64
		Head     string
		Received int64
	}
	expect(t, "head", desmond.get("/v1/log/5/head"), 200).into(t, &got)
	if got.LSN != 5 || got.Head != printed || len(printed) != 64 || got.Received == 0 {
		t.Errorf("got %+v, want entry 5 with the head that was printed, %q", got, printed)
	}
	for _, beyond := range []string{"999999", "0"} {
		if p := problemOf(t, "a place beyond the end", desmond.get("/v1/log/"+beyond+"/head"), 404); !strings.Contains(p.Detail, "the log has the entries 1 to ") {
			t.Errorf("entry %s: got %q", beyond, p.Detail)
		}
	}
	problemOf(t, "no entry", desmond.get("/v1/log/x/head"), 404)
	problemOf(t, "the head for a salvager", m.as("cal").get("/v1/log/5/head"), 403)
}

// feeds goes through the life of a calendar's address.
func feeds(t *testing.T, m *museum) {
	cal := m.as("cal")
	at := expect(t, "open a calendar", cal.post("/v1/people/cal/calendar", ""), 201).member(t, "address")
	first := expect(t, "calendar", m.nobody().get(at), 200)
	if kind := first.Header.Get("Content-Type"); kind != "text/calendar; charset=utf-8" || !bytes.HasPrefix(first.body, []byte("BEGIN:VCALENDAR\r\n")) {
		t.Errorf("got %s: %s", kind, first.body)
	}
	if !bytes.Contains(first.body, []byte("BEGIN:VEVENT")) {
		t.Errorf("cal holds an owl, and no duty stands in the calendar:\n%s", first.body)
	}
	if again := m.nobody().get(at); !bytes.Equal(again.body, first.body) {
		t.Error("the calendar changed though nothing happened")
	}
	problemOf(t, "another's calendar", m.nobody().get(strings.Replace(at, "/cal/", "/gwen/", 1)), 404)
	problemOf(t, "a wrong secret", m.nobody().get(at+"x"), 404)
	problemOf(t, "no secret", m.nobody().get("/v1/people/cal/duties.ics"), 404)
	problemOf(t, "opened by somebody else", m.as("desmond").post("/v1/people/cal/calendar", ""), 403)
	problemOf(t, "ended by somebody else", m.as("gwen").ask("DELETE", "/v1/people/cal/calendar", nil, nil), 403)
	expect(t, "ended by the officer", m.as("desmond").ask("DELETE", "/v1/people/cal/calendar", nil, nil), 204)
	problemOf(t, "an ended calendar", m.nobody().get(at), 404)
	desmond := m.as("desmond")
	at = expect(t, "the officer's calendar", desmond.post("/v1/people/desmond/calendar", ""), 201).member(t, "address")
	if r := expect(t, "calendar", m.nobody().get(at), 200); !bytes.Contains(r.body, []byte("File the yearly report")) {
		t.Errorf("the yearly report does not stand in the officer's calendar:\n%s", r.body)
	}
}

// forms are the papers of the year, as of a place.
func forms(t *testing.T, c *caller, asOf string) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	for _, form := range []string{"", ".csv", ".pdf", ".xlsx"} {
		out["year"+form] = expect(t, form, c.get(yearOf2025+form+"?as_of="+asOf), 200).body
	}
	out["bundle"] = expect(t, "bundle", c.get("/v1/permits/SW-MI-SALV/bundle?as_of="+asOf), 200).body
	return out
}

// Everything that was printed as of a place in the log comes out the same,
// byte by byte, after 10,000 further operations.
func TestAnEarlierPlaceGivesTheSameBytesAfterTenThousandOperations(t *testing.T) {
	m := open(t, func(c *server.Config) { c.Demo = true })
	papers(t, m)
	cal := m.phone("cal", 1)
	expect(t, "ask for shares", cal.post("/v1/grants", map[string]any{"device": cal.device, "next_seq": 1}), 200)
	for n := byte(1); n <= 20; n++ {
		cal.push(cal.save(groups(t, op.ID{0xB, n}, find(nil), op.ID{0xA, n})...))
	}
	desmond := m.as("desmond")
	present := map[string][]byte{}
	for _, form := range []string{"", ".csv", ".pdf", ".xlsx"} {
		present["year"+form] = expect(t, form, desmond.get(yearOf2025+form), 200).body
	}
	var y struct {
		LSN   uint64 `json:"as_of_lsn"`
		Total int
	}
	expect(t, "year", desmond.get(yearOf2025), 200).into(t, &y)
	if y.Total != 20 {
		t.Fatalf("got %d animals in the year, want 20", y.Total)
	}
	m.now.Add(2000)
	place := fmt.Sprint(y.LSN)
	moment := time.UnixMilli(m.now.Load() - 1000).UTC().Format(time.RFC3339)
	before := forms(t, desmond, place)
	for name, body := range present {
		if !bytes.Equal(body, before[name]) {
			t.Errorf("%s: now and as of now differ", name)
		}
	}
	m.now.Add(60_000)
	tenThousand(t, m, cal)
	desmond = m.as("desmond")
	expect(t, "year", desmond.get(yearOf2025), 200).into(t, &y)
	if y.Total != 120 {
		t.Errorf("after it all the year has %d animals, want 120", y.Total)
	}
	for _, asOf := range []string{place, moment} {
		for name, body := range forms(t, desmond, asOf) {
			if !bytes.Equal(body, before[name]) {
				t.Errorf("%s as of %s: other bytes than before 10,000 operations (%d and %d)", name, asOf, len(before[name]), len(body))
			}
		}
	}
	if later := expect(t, "a later place", desmond.get(yearOf2025+"?as_of="+fmt.Sprint(y.LSN)), 200); bytes.Equal(later.body, before["year"]) {
		t.Error("a later place gives what the earlier one gave")
	}
}

// tenThousand pushes 100 new finds, changes what the first ones said, and adds
// 9,880 remarks; a new edition of the paper comes between.
func tenThousand(t *testing.T, m *museum, cal *phone) {
	var ops [][]byte
	send := func() {
		cal.push(ops...)
		ops = ops[:0]
	}
	for n := byte(101); n <= 200; n++ {
		ops = append(ops, cal.save(groups(t, op.ID{0xB, n}, find(nil), op.ID{0xA, n})...))
	}
	for n := byte(1); n <= 20; n++ {
		ops = append(ops, cal.save(op.Group{ID: op.ID{0xA, n}, Kind: "animal", Acts: []op.Act{op.Set("disposition", op.Text("received"))}}))
	}
	send()
	paper := officialPaper(t, m)
	paper.Version, paper.EffectiveFrom, paper.Name = paper.Version+1, permits.NewDate(2025, 6, 1), "A paper by another name"
	expect(t, "a new edition", m.as("desmond").send("PUT", "/v1/permits/SW-MI-SALV", paper, nil), 200)
	for n := range 9880 {
		animal := op.ID{0xA, byte(n%100 + 101)}
		if n < 200 {
			animal = op.ID{0xA, byte(n%20 + 1)}
		}
		ops = append(ops, cal.save(op.Group{ID: animal, Kind: "animal", Acts: []op.Act{op.Event("remarks", val(t, record.Remark{Text: fmt.Sprint("remark ", n)}))}}))
		if len(ops) == 2000 {
			send()
		}
	}
	send()
}

func officialPaper(t *testing.T, m *museum) permits.Authority {
	t.Helper()
	var sheet struct{ Document permits.Authority }
	expect(t, "permit", m.as("desmond").get("/v1/permits/SW-MI-SALV"), 200).into(t, &sheet)
	return sheet.Document
}

// A bundle unpacks, its sums hold, and its pages say who wrote what.
func TestABundleUnpacksAndItsSumsHold(t *testing.T) {
	m := open(t, func(c *server.Config) { c.Demo = true })
	papers(t, m)
	cal := m.phone("cal", 1)
	var picture bytes.Buffer
	if err := png.Encode(&picture, image.NewGray(image.Rect(0, 0, 3, 3))); err != nil {
		t.Fatal(err)
	}
	come, missing := sha(picture.Bytes()), strings.Repeat("ab", 32)
	g := groups(t, op.ID{0xB, 1}, find(nil), op.ID{0xA, 1})
	for _, sum := range []string{come, missing} {
		g[0].Acts = append(g[0].Acts, op.Add("photos", val(t, record.Photo{SHA256: sum, Size: 70, Type: "image/png", Caption: "Zoë <b>"})))
	}
	cal.push(cal.save(g...))
	expect(t, "photo", cal.ask("PUT", "/v1/photos/"+come, &picture, map[string]string{"Content-Type": "image/png"}), 204)
	cal.push(cal.save(groups(t, op.ID{0xB, 2}, find(map[string]any{"found": record.When{Earliest: "2025-09-01T10:00", Latest: "2025-09-01T10:00", Precision: record.ToMinute, Zone: "-04:00"}}), op.ID{0xA, 2})...))
	expect(t, "settle the year", m.as("desmond").get(yearOf2025), 200)
	r := expect(t, "bundle", m.as("desmond").get("/v1/permits/SW-MI-SALV/bundle?from=2025-10-01&to=2025-12-31"), 200)
	folder := unpack(t, r.body)
	check := exec.Command("sha256sum", "--strict", "-c", "SHA256SUMS")
	check.Dir = folder
	if said, err := check.CombinedOutput(); err != nil {
		t.Errorf("sha256sum: %v\n%s", err, said)
	}
	sums, _ := os.ReadFile(filepath.Join(folder, "SHA256SUMS"))
	for _, name := range listed(t, folder) {
		if name != "SHA256SUMS" && !strings.Contains(string(sums), "  "+name+"\n") {
			t.Errorf("%s stands in no sum", name)
		}
	}
	animals, _ := filepath.Glob(filepath.Join(folder, "animals", "*"))
	if len(animals) != 1 {
		t.Fatalf("got the folders %v, want one: the other animal was picked up before", animals)
	}
	holds(t, filepath.Join(folder, "index.html"), "State salvage", "Animals (1)", "1 Oct 2025", "Cal Whitlock", "sha256sum -c", "log head")
	holds(t, filepath.Join(animals[0], "index.html"), "Eastern Screech-Owl", "Land permission", "Cal Whitlock", "phone", "3 Oct 2025, 14:00 -04:00",
		"Answers of the rules", "Custody", "photos/"+come+".png", "Has not come", "Zoë &lt;b&gt;", "Person listed that day")
	holds(t, filepath.Join(animals[0], "record.json"), `"edition"`, `"rule"`, `"cites"`, `"device"`, `"log_entry"`, `"who": "cal"`)
	for _, page := range []string{filepath.Join(folder, "index.html"), filepath.Join(animals[0], "index.html")} {
		text, _ := os.ReadFile(page)
		for _, outside := range []string{"http://", "https://", "<script", "src=\"//"} {
			if bytes.Contains(text, []byte(outside)) {
				t.Errorf("%s reaches outside: %s", page, outside)
			}
		}
	}
}

// unpack unpacks the archive and returns the folder.
func unpack(t *testing.T, data []byte) string {
	t.Helper()
	folder := t.TempDir()
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range z.File {
		if !filepath.IsLocal(f.Name) {
			t.Fatalf("%s leaves the folder", f.Name)
		}
		path := filepath.Join(folder, f.Name)
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		from, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(from)
		if err != nil {
			t.Fatalf("%s: %v", f.Name, err)
		}
		if err := os.WriteFile(path, body, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return folder
}

func listed(t *testing.T, folder string) (out []string) {
	t.Helper()
	err := filepath.WalkDir(folder, func(path string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			rel, _ := filepath.Rel(folder, path)
			out = append(out, filepath.ToSlash(rel))
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func holds(t *testing.T, path string, want ...string) {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range want {
		if !bytes.Contains(text, []byte(w)) {
			t.Errorf("%s does not say %q", filepath.Base(path), w)
		}
	}
}
