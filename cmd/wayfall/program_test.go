package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"

	"wayfall/server/demo"
	"wayfall/server/store/postgrestest"
	"wayfall/sync/exchange"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
)

// The test binary is the program itself when this is set, so that it can be
// killed like the real one.
const asProgram = "WAYFALL_TEST_AS_PROGRAM"

func TestMain(m *testing.M) {
	if os.Getenv(asProgram) != "" {
		main()
		return
	}
	code := m.Run()
	postgrestest.Stop()
	os.Exit(code)
}

func program(args ...string) *exec.Cmd {
	cmd := exec.Command(os.Args[0], args...)
	cmd.Env = append(os.Environ(), asProgram+"=1")
	return cmd
}

// serving is a running program.
type serving struct {
	cmd  *exec.Cmd
	base string
}

func serve(t *testing.T, folder, addr string) *serving {
	t.Helper()
	return serveWith(t, "", "serve", "--folder", folder, "--listen", addr)
}

// serveWith starts the program with a variable of the environment, if any.
func serveWith(t *testing.T, variable string, args ...string) *serving {
	t.Helper()
	cmd := program(args...)
	if variable != "" {
		cmd.Env = append(cmd.Env, variable)
	}
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatalf("the program did not say where it serves: %v", err)
	}
	at := strings.Index(line, "http://")
	return &serving{cmd, strings.TrimSpace(line[at:])}
}

// kill ends the program as a power cut would.
func (s *serving) kill() {
	_ = s.cmd.Process.Kill()
	_ = s.cmd.Wait()
}

func freeAddr(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

func invited(t *testing.T, folder string) string {
	t.Helper()
	out, err := program("invite", "--folder", folder, "--id", "bea", "--name", "Bea", "--role", "salvager").Output()
	if err != nil {
		t.Fatal(err)
	}
	_, code, ok := strings.Cut(strings.TrimSpace(string(out)), "code=")
	if !ok {
		t.Fatalf("no code in %q", out)
	}
	return code
}

// TestKilledDuringPushesNothingAcknowledgedIsLostOrDoubled kills the real
// program in the middle of pushes, starts it again, pushes again, and reads
// the whole log back.
func TestKilledDuringPushesNothingAcknowledgedIsLostOrDoubled(t *testing.T) {
	folder, addr := t.TempDir(), freeAddr(t)
	code := invited(t, folder)
	s := serve(t, folder, addr)
	sum := sha256.Sum256([]byte(t.Name()))
	dev := op.DeviceID(sum[:16])
	client := &demo.Client{Base: s.base, HTTP: &http.Client{Timeout: 20 * time.Second}}
	var got struct{ Access, Refresh, Institution string }
	in := map[string]any{"code": code, "device": map[string]any{"id": dev.String(), "name": "phone"}}
	if err := client.Do(context.Background(), http.MethodPost, "/v1/sign-in", in, &got); err != nil {
		t.Fatal(err)
	}
	client.Access = got.Access
	phone := demo.NewPhone(client, dev, "bea", got.Institution, "BEA")

	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 1))
	acked := map[uint64]uint64{} // by seq: its place in the log
	const kills = 8
	for range kills {
		time.AfterFunc(time.Duration(5+rng.IntN(120))*time.Millisecond, s.kill)
		pushUntilCut(t, phone, rng, acked)
		s = serve(t, folder, addr)
	}
	note(t, acked, pushAll(t, phone))
	found := readLog(t, client, dev)
	for seq, lsn := range acked {
		if places := found[seq]; len(places) != 1 || places[0] != lsn {
			t.Errorf("operation %d was acknowledged at %d and is found at %v", seq, lsn, places)
		}
	}
	if len(found) != len(acked) {
		t.Errorf("got %d operations in the log, want the %d that were acknowledged in the end", len(found), len(acked))
	}
	t.Logf("SHOW %d kills during pushes: %d operations acknowledged, %d found once, 0 lost, 0 doubled", kills, len(acked), len(found))
	s.kill()
}

// pushUntilCut saves and pushes until the program is gone.
func pushUntilCut(t *testing.T, phone *demo.Phone, rng *rand.Rand, acked map[uint64]uint64) {
	t.Helper()
	for range 10_000 {
		for range 1 + rng.IntN(40) {
			var id op.ID
			for i := range id {
				id[i] = byte(rng.IntN(256))
			}
			g := op.Group{ID: id, Kind: "report", Acts: []op.Act{op.Set("locality", op.Text(fmt.Sprint("mile ", rng.IntN(500))))}}
			if _, err := phone.Save(time.Now(), g); err != nil {
				t.Fatal(err)
			}
		}
		receipts, err := phone.Push(context.Background())
		if err != nil {
			var said *demo.Problem
			if errors.As(err, &said) {
				t.Fatal(err)
			}
			return // cut: nobody knows what became of it, and the outbox is kept
		}
		note(t, acked, receipts)
	}
	t.Fatal("the program was never cut off")
}

func pushAll(t *testing.T, phone *demo.Phone) []oplog.Receipt {
	t.Helper()
	receipts, err := phone.Push(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return receipts
}

// note keeps what was acknowledged; a second answer must be the first again.
func note(t *testing.T, acked map[uint64]uint64, receipts []oplog.Receipt) {
	t.Helper()
	for _, r := range receipts {
		if before, ok := acked[r.Seq]; ok && before != r.LSN {
			t.Errorf("operation %d was acknowledged at %d and then at %d", r.Seq, before, r.LSN)
		}
		acked[r.Seq] = r.LSN
	}
}

// readLog pulls everything and returns the places of each of the device's
// operations.
func readLog(t *testing.T, c *demo.Client, dev op.DeviceID) map[uint64][]uint64 {
	t.Helper()
	found := map[uint64][]uint64{}
	cursor := ""
	for {
		body, err := c.Get(context.Background(), "/v1/sync/pull?limit=500&cursor="+cursor)
		if err != nil {
			t.Fatal(err)
		}
		page, err := exchange.ReadPull(bytes.NewReader(body), 64<<20)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range page.Entries {
			if e.Dev == dev {
				found[e.Seq] = append(found[e.Seq], e.LSN)
			}
		}
		if !page.More {
			return found
		}
		cursor = page.Cursor
	}
}

func TestAnInterruptEndsTheProgramClean(t *testing.T) {
	s := serve(t, t.TempDir(), freeAddr(t))
	if err := s.cmd.Process.Signal(syscall.SIGINT); err != nil {
		t.Fatal(err)
	}
	if err := s.cmd.Wait(); err != nil {
		t.Errorf("got %v, want a clean end", err)
	}
}

func TestHelpNamesEveryCommand(t *testing.T) {
	var out strings.Builder
	if err := run(context.Background(), []string{"--help"}, &out); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"serve", "demo", "invite", "rules", "verify", "backup", "restore"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("the help does not name %s:\n%s", want, out.String())
		}
	}
}

func TestAWrongCommandIsAnswered(t *testing.T) {
	if err := run(context.Background(), []string{"swim"}, io.Discard); err == nil {
		t.Error("got no error for a command that is none")
	}
}
