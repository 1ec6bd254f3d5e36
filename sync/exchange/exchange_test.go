package exchange

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"reflect"
	"strings"
	"testing"
	"time"

	"wayfall/sync/clock"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/oplog/oplogtest"
)

func pushBody(t testing.TB, n int) (oplog.Batch, []byte) {
	t.Helper()
	b := oplogtest.NewPhone(1).Saves(t, n)
	var buf bytes.Buffer
	if err := WritePush(&buf, b); err != nil {
		t.Fatal(err)
	}
	return b, buf.Bytes()
}

func zip(t testing.TB, b []byte) []byte {
	t.Helper()
	var buf bytes.Buffer
	z := gzip.NewWriter(&buf)
	if _, err := z.Write(b); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func TestPushIsReadBack(t *testing.T) {
	want, body := pushBody(t, 3)
	got, err := ReadPush(bytes.NewReader(body), Usual)
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("got %+v (%v), want %+v", got, err, want)
	}
	if !strings.HasPrefix(string(body), `{"push":1,"dev":"`) || bytes.Count(body, []byte("\n")) != 4 {
		t.Errorf("the body is not a head and one operation a line:\n%s", body)
	}
}

func TestPushCutAtEveryByteCountsForNothing(t *testing.T) {
	_, body := pushBody(t, 4)
	for cut := range body {
		got, err := ReadPush(bytes.NewReader(body[:cut]), Usual)
		var tr *TruncatedError
		if !errors.As(err, &tr) || got.Ops != nil {
			t.Fatalf("cut after %d of %d bytes: got %d operations (%v), want a truncated body", cut, len(body), len(got.Ops), err)
		}
		if want := max(bytes.Count(body[:cut], []byte("\n"))-1, 0); tr.Whole != want {
			t.Fatalf("cut after %d bytes: got %d whole operations, want %d", cut, tr.Whole, want)
		}
	}
}

func TestGzippedPushCutAtEveryByteCountsForNothing(t *testing.T) {
	_, body := pushBody(t, 40)
	packed := zip(t, body)
	most := 0
	for cut := 10; cut < len(packed); cut++ { // a gzip header is 10 bytes
		z, err := gzip.NewReader(bytes.NewReader(packed[:cut]))
		if err != nil {
			t.Fatal(err)
		}
		_, err = ReadPush(z, Usual)
		var tr *TruncatedError
		if !errors.As(err, &tr) || !errors.Is(err, io.ErrUnexpectedEOF) {
			t.Fatalf("cut after %d of %d bytes: got %v, want a truncated body", cut, len(packed), err)
		}
		most = max(most, tr.Whole)
	}
	if most != 40 { // all came, but not the sum over them
		t.Errorf("got at most %d whole operations, want 40", most)
	}
}

func TestPushRefuses(t *testing.T) {
	_, body := pushBody(t, 3)
	rows := bytes.SplitAfter(body, []byte("\n"))
	for _, c := range []struct {
		name string
		body []byte
		lim  Limits
		want error
	}{
		{"too many operations", body, Limits{2, 1 << 20}, ErrLimit},
		{"too many bytes", body, Limits{10, int64(len(body)) - 1}, ErrLimit},
		{"one line without end", bytes.Repeat([]byte("x"), 2<<20), Limits{10, 4 << 20}, ErrLimit},
		{"an operation over its limit", append(bytes.Clone(rows[0]), bytes.Repeat([]byte("x"), op.MaxBytes+2)...), Limits{10, 4 << 20}, ErrLimit},
		{"a page of a captive portal", []byte("<html>please sign in</html>\n"), Usual, ErrForm},
		{"another version", bytes.Replace(body, []byte(`"push":1`), []byte(`"push":2`), 1), Usual, ErrForm},
		{"more than announced", append(bytes.Clone(body), rows[1]...), Usual, ErrForm},
		{"an operation changed on the way", bytes.Replace(body, []byte("remark 2"), []byte("remark 9"), 1), Usual, oplog.ErrBody},
		{"two operations swapped", bytes.Join([][]byte{rows[0], rows[2], rows[1], rows[3]}, nil), Usual, oplog.ErrBody},
	} {
		if _, err := ReadPush(bytes.NewReader(c.body), c.lim); !errors.Is(err, c.want) {
			t.Errorf("%s: got %v, want %v", c.name, err, c.want)
		}
	}
}

func TestADecompressionBombIsStopped(t *testing.T) {
	_, body := pushBody(t, 1)
	head := bytes.SplitAfter(body, []byte("\n"))[0]
	bomb := zip(t, append(bytes.Clone(head), make([]byte, 64<<20)...))
	z, err := gzip.NewReader(bytes.NewReader(bomb))
	if err != nil {
		t.Fatal(err)
	}
	counted := &counter{r: z}
	if _, err := ReadPush(counted, Usual); !errors.Is(err, ErrLimit) || counted.n > 1<<20 {
		t.Errorf("got %v after %d bytes, want %v within 1 MiB", err, counted.n, ErrLimit)
	}
}

type counter struct {
	r io.Reader
	n int
}

func (c *counter) Read(b []byte) (int, error) {
	n, err := c.r.Read(b)
	c.n += n
	return n, err
}

func receipts(n int) []oplog.Receipt {
	all := make([]oplog.Receipt, n)
	for i := range all {
		all[i] = oplog.Receipt{Dev: op.DeviceID{1}, Seq: uint64(i + 1), LSN: uint64(i + 10), Received: 5, Eff: clock.Stamp{Millis: 4}, Effect: oplog.OK}
	}
	all[n-1].Effect, all[n-1].Code, all[n-1].Why = oplog.Quarantined, "denied", "not yours\nto say"
	return all
}

func TestResultsAreReadBackWholeOrNotAtAll(t *testing.T) {
	want := receipts(3)
	var buf bytes.Buffer
	if err := WriteResults(&buf, want); err != nil {
		t.Fatal(err)
	}
	got, err := ReadResults(bytes.NewReader(buf.Bytes()), 3)
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("got %+v (%v), want %+v", got, err, want)
	}
	for cut := range buf.Len() {
		var tr *TruncatedError
		if _, err := ReadResults(bytes.NewReader(buf.Bytes()[:cut]), 3); !errors.As(err, &tr) {
			t.Fatalf("cut after %d bytes: got %v, want a truncated body", cut, err)
		}
	}
	if _, err := ReadResults(bytes.NewReader(buf.Bytes()), 2); !errors.Is(err, ErrForm) {
		t.Errorf("three receipts for two operations: got %v, want %v", err, ErrForm)
	}
	if _, err := ReadResults(strings.NewReader("<html>\n"), 1); !errors.Is(err, ErrForm) {
		t.Errorf("a page of a captive portal: got %v, want %v", err, ErrForm)
	}
}

func pullPage(t testing.TB) Page {
	b := oplogtest.NewPhone(1).Saves(t, 3)
	p := Page{Cursor: "abc", More: true}
	for i, r := range receipts(3) {
		p.Entries = append(p.Entries, oplog.Entry{Receipt: r, Wire: b.Ops[i]})
	}
	p.Entries[1].Effect, p.Entries[1].Code, p.Entries[1].Wire = oplog.Quarantined, oplog.CodeUnreadable, nil
	return p
}

func TestPullIsReadBackWholeOrNotAtAll(t *testing.T) {
	want := pullPage(t)
	sent := want
	sent.Entries = append([]oplog.Entry(nil), want.Entries...)
	sent.Entries[1].Wire = []byte("{not json") // never leaves the server
	var buf bytes.Buffer
	if err := WritePull(&buf, sent); err != nil {
		t.Fatal(err)
	}
	got, err := ReadPull(bytes.NewReader(buf.Bytes()), 1<<20)
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("\n got %+v (%v)\nwant %+v", got, err, want)
	}
	for cut := range buf.Len() {
		var tr *TruncatedError
		if _, err := ReadPull(bytes.NewReader(buf.Bytes()[:cut]), 1<<20); !errors.As(err, &tr) {
			t.Fatalf("cut after %d bytes: got %v, want a truncated body", cut, err)
		}
	}
	if _, err := ReadPull(bytes.NewReader(buf.Bytes()), 100); !errors.Is(err, ErrLimit) {
		t.Errorf("over the limit: got %v, want %v", err, ErrLimit)
	}
}

func TestPullPassesOverWhatALaterServerSends(t *testing.T) {
	p, err := ReadPull(strings.NewReader(`{"forget":"oQAAAAAAAAAAAAAAAAAAAQ"}`+"\n"+`{"cursor":"c","more":false,"sth":{}}`+"\n"), 1<<20)
	if err != nil || p.Cursor != "c" || p.More || len(p.Entries) != 0 {
		t.Errorf("got %+v (%v), want an empty page with its cursor", p, err)
	}
}

func TestCursor(t *testing.T) {
	key := []byte("a key of this server's own")
	c := Cursor{Server: [16]byte{1}, Incarnation: [16]byte{2}, LSN: 1 << 40, Scope: ScopeHash("harbour")}
	text := c.Seal(key)
	if got, err := OpenCursor(key, text); err != nil || got != c {
		t.Errorf("got %+v (%v), want %+v", got, err, c)
	}
	if _, err := OpenCursor([]byte("another key"), text); !errors.Is(err, ErrCursor) {
		t.Errorf("with another key: got %v, want %v", err, ErrCursor)
	}
	for i := range text {
		for _, x := range []byte("AzZ9_\n") {
			bad := []byte(text)
			if bad[i] == x {
				continue
			}
			bad[i] = x
			if _, err := OpenCursor(key, string(bad)); !errors.Is(err, ErrCursor) {
				t.Fatalf("character %d changed: got %v, want %v", i, err, ErrCursor)
			}
		}
	}
	for _, bad := range []string{"", "A", text[1:], text + "A", text + "\n"} {
		if _, err := OpenCursor(key, bad); !errors.Is(err, ErrCursor) {
			t.Errorf("OpenCursor(%q): got %v, want %v", bad, err, ErrCursor)
		}
	}
	if ScopeHash("a") == ScopeHash("b") {
		t.Error("two scopes hash alike")
	}
}

// The sizes are what a phone pays by radio; see the wire targets of the design.
func TestWireSizes(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	p := oplogtest.NewPhone(1)
	var edits [][]byte
	for range 100 {
		var id op.ID
		for i := range id {
			id[i] = byte(rng.IntN(256))
		}
		edits = append(edits, p.Write(t, op.Group{ID: id, Kind: "report", Acts: []op.Act{op.Set("condition", op.Text(fmt.Sprintf("fresh, wing %d broken", rng.IntN(1000))))}}))
	}
	var buf bytes.Buffer
	if err := WritePush(&buf, p.Batch(edits...)); err != nil {
		t.Fatal(err)
	}
	packed := len(zip(t, buf.Bytes()))
	t.Logf("100 one-field edits of 100 records: %d bytes, %d gzipped, %d an edit", buf.Len(), packed, packed/100)
	if packed/100 > 60 {
		t.Errorf("got %d bytes an edit gzipped, want at most 60", packed/100)
	}
}

func FuzzReadPush(f *testing.F) {
	_, body := pushBody(f, 2)
	f.Add(body)
	f.Fuzz(func(t *testing.T, body []byte) {
		b, err := ReadPush(bytes.NewReader(body), Limits{10, 1 << 16})
		if err != nil {
			return
		}
		var again bytes.Buffer
		if err := WritePush(&again, b); err != nil {
			t.Fatal(err)
		}
		back, err := ReadPush(&again, Limits{10, 1 << 17})
		if err != nil || !reflect.DeepEqual(back, b) {
			t.Errorf("written again it reads %+v (%v), want %+v", back, err, b)
		}
	})
}

func FuzzReadPull(f *testing.F) {
	var buf bytes.Buffer
	if err := WritePull(&buf, pullPage(f)); err != nil {
		f.Fatal(err)
	}
	f.Add(buf.Bytes())
	f.Fuzz(func(t *testing.T, body []byte) {
		p, err := ReadPull(bytes.NewReader(body), 1<<16)
		if err == nil && p.Cursor == "" {
			t.Errorf("a page without a cursor counts: %q", body)
		}
	})
}

func FuzzOpenCursor(f *testing.F) {
	f.Add(Cursor{LSN: 7}.Seal(nil))
	f.Fuzz(func(t *testing.T, text string) {
		if c, err := OpenCursor(nil, text); err == nil && c.Seal(nil) != text {
			t.Errorf("two spellings of one cursor: %q and %q", text, c.Seal(nil))
		}
	})
}

func ExampleWritePush() {
	dev := op.DeviceID{1}
	o := op.Op{Dev: dev, Seq: 1, HLC: clock.At(time.UnixMilli(1777809600000)), Actor: "ada", Scope: "harbour", Schema: 1,
		On: []op.Group{{ID: op.ID{9}, Kind: "report", Acts: []op.Act{op.Set("count", "3")}}}}
	wire, _ := o.Encode()
	before := op.Genesis(dev)
	var body bytes.Buffer
	err := WritePush(&body, oplog.Batch{Dev: dev, First: 1, Before: before, After: op.Next(before, wire), Ops: [][]byte{wire}})
	fmt.Println(strings.Count(body.String(), "\n"), err)
	_, err = ReadPush(strings.NewReader(body.String()[:body.Len()-1]), Usual)
	fmt.Println(err)
	// Output:
	// 2 <nil>
	// the body was cut short after 0 of 1 operations
}

func FuzzReadResults(f *testing.F) {
	var buf bytes.Buffer
	if err := WriteResults(&buf, receipts(3)); err != nil {
		f.Fatal(err)
	}
	f.Add(buf.Bytes())
	f.Fuzz(func(t *testing.T, body []byte) {
		got, err := ReadResults(bytes.NewReader(body), 3)
		if err != nil {
			return
		}
		var again bytes.Buffer
		if err := WriteResults(&again, got); err != nil {
			t.Fatal(err)
		}
		if back, err := ReadResults(&again, 3); err != nil || !reflect.DeepEqual(back, got) {
			t.Errorf("written again they read %+v (%v), want %+v", back, err, got)
		}
	})
}

const oldPush = "../../fixtures/old/push-v1.ndjson"

func TestAPushOfTheFirstReleaseIsStillRead(t *testing.T) {
	body, err := os.ReadFile(oldPush)
	if err != nil {
		t.Fatal(err)
	}
	b, err := ReadPush(bytes.NewReader(body), Usual)
	if err != nil || len(b.Ops) != 2 || b.First != 1 {
		t.Fatalf("got %d operations from %d (%v), want 2 from 1", len(b.Ops), b.First, err)
	}
	var again bytes.Buffer
	if err := WritePush(&again, b); err != nil || again.String() != string(body) {
		t.Errorf("it is written otherwise today (%v):\n got %s\nwant %s", err, again.String(), body)
	}
	rs, err := oplog.NewMemory(func() time.Time { return time.UnixMilli(1777809700000) }, nil).Append(t.Context(), b)
	if err != nil || len(rs) != 2 || rs[1].Effect != oplog.OK {
		t.Errorf("got receipts %+v (%v), want both taken", rs, err)
	}
}
