package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"wayfall/server/demo"
	"wayfall/server/store/postgrestest"
	"wayfall/sync/op"
)

// hands is a phone of the real program.
func hands(t *testing.T, base, code string) (*demo.Phone, *demo.Client) {
	t.Helper()
	sum := sha256.Sum256([]byte(t.Name()))
	dev := op.DeviceID(sum[:16])
	client := &demo.Client{Base: base, HTTP: &http.Client{Timeout: 20 * time.Second}}
	var got struct{ Access, Refresh, Institution string }
	in := map[string]any{"code": code, "device": map[string]any{"id": dev.String(), "name": "phone"}}
	if err := client.Do(context.Background(), http.MethodPost, "/v1/sign-in", in, &got); err != nil {
		t.Fatal(err)
	}
	client.Access = got.Access
	return demo.NewPhone(client, dev, "bea", got.Institution, "BEA"), client
}

func saveMiles(t *testing.T, p *demo.Phone, n int) {
	t.Helper()
	for i := range n {
		sum := sha256.Sum256(fmt.Append(nil, t.Name(), time.Now().UnixNano(), i))
		g := op.Group{ID: op.ID(sum[:16]), Kind: "report", Acts: []op.Act{op.Set("locality", op.Text(fmt.Sprint("mile ", i)))}}
		if _, err := p.Save(time.Now(), g); err != nil {
			t.Fatal(err)
		}
	}
}

func say(t *testing.T, args ...string) string {
	t.Helper()
	out, err := program(args...).CombinedOutput()
	if err != nil {
		t.Fatalf("wayfall %s: %v\n%s", strings.Join(args, " "), err, out)
	}
	return string(out)
}

// TestACopyMadeWhileServingIsPutBackAndThePhoneFillsItUp copies the store of
// the running program in the middle of pushes, loses the store, puts the copy
// back, and finds everything that was ever acknowledged, once.
func TestACopyMadeWhileServingIsPutBackAndThePhoneFillsItUp(t *testing.T) {
	folder, copies, addr := t.TempDir(), t.TempDir(), freeAddr(t)
	code := invited(t, folder)
	s := serve(t, folder, addr)
	phone, client := hands(t, s.base, code)
	acked := map[uint64]uint64{}
	for range 10 {
		saveMiles(t, phone, 20)
		note(t, acked, pushAll(t, phone))
	}
	copied := make(chan string, 1)
	go func() {
		out, err := program("backup", "--folder", folder, "--to", copies, "--elsewhere").CombinedOutput()
		copied <- fmt.Sprint(string(out), err)
	}()
	for range 10 {
		saveMiles(t, phone, 20)
		note(t, acked, pushAll(t, phone))
	}
	if out := <-copied; !strings.Contains(out, "Whole: ") || !strings.HasSuffix(out, "<nil>") {
		t.Fatalf("the copy: %s", out)
	}
	saveMiles(t, phone, 100)
	note(t, acked, pushAll(t, phone))
	s.kill()

	again := filepath.Join(t.TempDir(), "again")
	said := say(t, "restore", "--from", copies, "--folder", again)
	s = serve(t, again, addr)
	if err := phone.Meet(t.Context()); err != nil {
		t.Fatal(err)
	}
	refill := phone.Unsent()
	if refill < 100 {
		t.Errorf("the phone is asked for %d operations, want at least the 100 saved after the copy", refill)
	}
	if _, err := phone.Push(t.Context()); err != nil {
		t.Fatal(err)
	}
	found := readLog(t, client, phone.Dev)
	for seq := range acked {
		if len(found[seq]) != 1 {
			t.Errorf("operation %d was acknowledged and is found at %v", seq, found[seq])
		}
	}
	s.kill()
	t.Logf("SHOW %s%d acknowledged, %d handed in again, %d found once, 0 lost, 0 doubled", said, len(acked), refill, len(found))
	t.Log("SHOW", say(t, "verify", "--folder", again))
	if out, err := program("restore", "--from", copies, "--folder", again).CombinedOutput(); err == nil {
		t.Errorf("a copy was put over a store: %s", out)
	}
}

func TestVerifyNamesWhatIsDamagedAndAgreesWithAHeadThatWasKept(t *testing.T) {
	folder := t.TempDir()
	code := invited(t, folder)
	s := serve(t, folder, freeAddr(t))
	phone, client := hands(t, s.base, code)
	saveMiles(t, phone, 30)
	pushAll(t, phone)
	var sealed struct{ Head string }
	body, err := client.Get(t.Context(), "/v1/sync/head")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(body, &sealed); err != nil {
		t.Fatal(err)
	}
	kept := filepath.Join(t.TempDir(), "head.txt")
	if err := os.WriteFile(kept, []byte(sealed.Head), 0o600); err != nil {
		t.Fatal(err)
	}
	saveMiles(t, phone, 30)
	pushAll(t, phone)
	if err := s.cmd.Process.Signal(syscall.SIGINT); err != nil {
		t.Fatal(err)
	}
	if err := s.cmd.Wait(); err != nil {
		t.Fatal(err)
	}
	if out := say(t, "verify", "--folder", folder, "--head", kept); !strings.Contains(out, "A head that was kept agrees") {
		t.Errorf("got %s", out)
	}

	path := filepath.Join(folder, storeFile)
	file, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	was, lie := []byte(`"val":"mile 17"`), []byte(`"val":"mile 71"`)
	if !bytes.Contains(file, was) {
		t.Fatal("the operation is not in the file")
	}
	if err := os.WriteFile(path, bytes.ReplaceAll(file, was, lie), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := program("verify", "--folder", folder).CombinedOutput()
	if err == nil || !strings.Contains(string(out), "is not as it was written") {
		t.Errorf("got %s (%v), want the place of what was changed", out, err)
	}
	t.Logf("SHOW %s", out)
}

// TestAStoreMovesIntoADatabaseAndTheProgramServesItFromThere copies a store
// out of its file, puts it into PostgreSQL, and goes on there.
func TestAStoreMovesIntoADatabaseAndTheProgramServesItFromThere(t *testing.T) {
	folder, copies, addr, database := t.TempDir(), t.TempDir(), freeAddr(t), postgrestest.Database(t)
	code := invited(t, folder)
	s := serve(t, folder, addr)
	phone, client := hands(t, s.base, code)
	saveMiles(t, phone, 50)
	pushAll(t, phone)
	say(t, "backup", "--folder", folder, "--to", copies)
	s.kill()

	say(t, "restore", "--from", copies, "--folder", folder, "--store", database)
	s = serveWith(t, "", "serve", "--folder", folder, "--listen", addr, "--store", database)
	if err := phone.Meet(t.Context()); err != nil {
		t.Fatal(err)
	}
	saveMiles(t, phone, 50)
	pushAll(t, phone)
	s.kill()
	s = serveWith(t, "", "serve", "--folder", folder, "--listen", addr, "--store", database)
	if found := readLog(t, client, phone.Dev); len(found) != 100 {
		t.Errorf("got %d operations, want 100", len(found))
	}
	if out, err := program("serve", "--folder", folder, "--listen", freeAddr(t), "--store", database).CombinedOutput(); err == nil || !strings.Contains(string(out), "another program serves this store") {
		t.Errorf("a second server: got %s (%v)", out, err)
	}
	s.kill()
	t.Log("SHOW", say(t, "verify", "--folder", folder, "--store", database))
}
