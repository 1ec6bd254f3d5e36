package store

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wayfall/server/store/postgrestest"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/oplog/oplogtest"
)

// childPath names the store to the child process that is killed.
const childPath = "WAYFALL_TEST_CHILD_STORE"

func TestMain(m *testing.M) {
	if path := os.Getenv(childPath); path != "" {
		if err := child(path); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	}
	code := m.Run()
	postgrestest.Stop()
	os.Exit(code)
}

const childPhones = 3

// savesOf returns the first n saves of a phone. They are the same in every
// process, as a phone's saves are after the server was killed.
func savesOf(t testing.TB, phone byte, n int) oplog.Batch {
	return oplogtest.NewPhone(phone).Saves(t, n)
}

// child pushes until it is killed: each phone from where the log ends, in
// batches of a few, and prints every receipt once it has it.
func child(path string) error {
	s, err := Open(path, Options{Now: time.Now, Random: newChance(9)})
	if err != nil {
		return err
	}
	fmt.Println("open")
	out := make(chan string, 1000)
	for n := range byte(childPhones) {
		go func() {
			if err := pushOn(s, n+1, out); err != nil {
				out <- "error " + err.Error()
			}
		}()
	}
	for line := range out {
		fmt.Println(line)
	}
	return nil
}

func pushOn(s *Store, phone byte, out chan<- string) error {
	p := oplogtest.NewPhone(phone)
	head, err := s.Head(ctx, p.Dev)
	if err != nil {
		return err
	}
	for p.Seq < head.Seq { // the phone knows its own past
		p.Batch(p.Save(panicky{}, remarkOf(p)))
	}
	if p.Link != head.Link {
		return errors.New("the log's chain is not the phone's")
	}
	for {
		var ops [][]byte
		for range 1 + p.Seq%7 {
			ops = append(ops, p.Save(panicky{}, remarkOf(p)))
		}
		rs, err := s.Push(ctx, p.Batch(ops...))
		if err != nil {
			return err
		}
		for _, r := range rs {
			out <- fmt.Sprintf("ack %d %d %d", phone, r.Seq, r.LSN)
		}
	}
}

func remarkOf(p *oplogtest.Phone) string { return fmt.Sprintf("remark %d of %v", p.Seq+1, p.Dev) }

// panicky stands in for a test where there is none.
type panicky struct{ testing.TB }

func (panicky) Helper()                   {}
func (panicky) Fatalf(f string, a ...any) { panic(fmt.Sprintf(f, a...)) }

// Every acknowledged operation is in the log exactly once, after as many kills
// as you like.
func TestAcknowledgedOperationsSurviveKills(t *testing.T) {
	kills := 12
	if testing.Short() {
		kills = 3
	}
	path := filepath.Join(t.TempDir(), "wayfall.db")
	rng := rand.New(rand.NewPCG(12, 12))
	acked := map[op.Dot]uint64{}
	for range kills {
		runAndKill(t, path, time.Duration(1+rng.IntN(60))*time.Millisecond, acked)
	}
	if len(acked) < kills {
		t.Fatalf("only %d operations were acknowledged in %d lives", len(acked), kills)
	}
	s := openAt(t, path, options())
	verify(t, s)
	log, err := s.Read(ctx, 0, 1_000_000)
	if err != nil {
		t.Fatal(err)
	}
	found := map[op.Dot]uint64{}
	for i, e := range log {
		d := op.Dot{Dev: e.Dev, Seq: e.Seq}
		if found[d] != 0 || e.LSN != uint64(i+1) {
			t.Errorf("%v:%d is at places %d and %d", e.Dev, e.Seq, found[d], e.LSN)
		}
		found[d] = e.LSN
	}
	for d, lsn := range acked {
		if found[d] != lsn {
			t.Errorf("operation %v:%d was acknowledged at place %d, found at %d", d.Dev, d.Seq, lsn, found[d])
		}
	}
	t.Logf("%d kills, %d operations acknowledged, %d in the log", kills, len(acked), len(log))
	for n := range byte(childPhones) { // and every phone goes on where it was
		head, err := s.Head(ctx, oplogtest.NewPhone(n+1).Dev)
		if err != nil {
			t.Fatal(err)
		}
		all := savesOf(t, n+1, int(head.Seq)+3)
		rs := push(t, s, all)
		if rs[len(rs)-1].Effect != oplog.OK || rs[0].LSN != found[op.Dot{Dev: all.Dev, Seq: 1}] {
			t.Errorf("phone %d: pushed whole again, got %+v first and %+v last", n+1, rs[0], rs[len(rs)-1])
		}
	}
	if got := s.Last(); got != uint64(len(log)+3*childPhones) {
		t.Errorf("got %d operations, want %d and three more of each phone", got, len(log))
	}
}

// runAndKill starts the child, lets it work for a while after it opened the
// store, kills it and notes what it acknowledged.
func runAndKill(t *testing.T, path string, life time.Duration, acked map[op.Dot]uint64) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), childPath+"="+path)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewReader(out)
	if first, err := lines.ReadString('\n'); err != nil || first != "open\n" {
		_ = cmd.Wait()
		t.Fatalf("the child did not open the store: %q %v %s", first, err, stderr.String())
	}
	timer := time.AfterFunc(life, func() { _ = cmd.Process.Kill() }) // SIGKILL
	defer timer.Stop()
	for {
		line, err := lines.ReadString('\n')
		if errors.Is(err, io.EOF) { // a line without its end was not said
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		note(t, strings.TrimSpace(line), acked)
	}
	if err := cmd.Wait(); err == nil {
		t.Error("the child ended by itself")
	}
}

func note(t *testing.T, line string, acked map[op.Dot]uint64) {
	t.Helper()
	var phone byte
	var seq, lsn uint64
	if _, err := fmt.Sscanf(line, "ack %d %d %d", &phone, &seq, &lsn); err != nil {
		t.Errorf("the child said %q", line)
		return
	}
	d := op.Dot{Dev: oplogtest.NewPhone(phone).Dev, Seq: seq}
	if was := acked[d]; was != 0 && was != lsn {
		t.Errorf("%v:%d was acknowledged at places %d and %d", d.Dev, d.Seq, was, lsn)
	}
	acked[d] = lsn
}
