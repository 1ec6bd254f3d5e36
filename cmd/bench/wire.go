package main

import (
	"bufio"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"time"

	"wayfall/fixtures/scenario"
	"wayfall/permits"
	"wayfall/server/demo"
	"wayfall/sync/op"
)

const (
	newRecords = 10_000
	pushBatch  = 500
	edits      = 10_000
	editBatch  = 100
)

// overTheWire drives the finished program over loopback: ten thousand new
// finds, then ten thousand edits of one field, from one phone.
func overTheWire(ctx context.Context) ([]line, error) {
	fmt.Fprintln(os.Stderr, "pushing over loopback …")
	folder, err := os.MkdirTemp("", "wayfall-bench-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(folder)
	srv, err := start(ctx, folder)
	if err != nil {
		return nil, err
	}
	defer srv.stop()
	atStart, err := srv.peakMiB()
	if err != nil {
		return nil, err
	}
	if err := srv.papers(ctx); err != nil {
		return nil, err
	}
	phone, meter, err := srv.phone(ctx)
	if err != nil {
		return nil, err
	}
	lines, err := pushNew(ctx, srv, phone, meter)
	if err != nil {
		return nil, err
	}
	more, err := pushEdits(ctx, srv, phone, meter)
	if err != nil {
		return nil, err
	}
	peak, err := srv.peakMiB()
	lines = append(lines, more...)
	return append(lines,
		only("server memory once started", atStart, "MiB", "VmHWM: rules, map lines and towns loaded, pages of the program itself"),
		atMost("server memory at its peak", peak, 80, "MiB", "VmHWM over the whole workload")), err
}

// program is a running wayfall.
type program struct {
	cmd    *exec.Cmd
	base   string
	phones string // code by which a salvager signs in
	office string // and by which a permit officer does
}

// invited returns a code for a person of that role.
func invited(ctx context.Context, exe, folder, role string) (string, error) {
	out, err := exec.CommandContext(ctx, exe, "invite", "--folder", folder, "--id", "bench-"+role, "--name", "Bench", "--role", role).Output()
	if err != nil {
		return "", fmt.Errorf("invite: %w", err)
	}
	_, code, ok := strings.Cut(strings.TrimSpace(string(out)), "code=")
	if !ok {
		return "", fmt.Errorf("no code in %q", out)
	}
	return code, nil
}

func start(ctx context.Context, folder string) (*program, error) {
	exe, err := filepath.Abs("bin/wayfall")
	if err != nil {
		return nil, err
	}
	code, err := invited(ctx, exe, folder, "salvager")
	if err != nil {
		return nil, err
	}
	office, err := invited(ctx, exe, folder, "permit_officer")
	if err != nil {
		return nil, err
	}
	free, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	addr := free.Addr().String()
	if err := free.Close(); err != nil {
		return nil, err
	}
	p := &program{exec.Command(exe, "serve", "--folder", folder, "--listen", addr), "http://" + addr, code, office}
	if err := p.cmd.Start(); err != nil {
		return nil, err
	}
	for range 200 {
		if resp, err := http.Get(p.base + "/v1/health"); err == nil {
			_ = resp.Body.Close()
			return p, nil
		}
		time.Sleep(50 * time.Millisecond)
	}
	p.stop()
	return nil, errors.New("the server did not come up")
}

func (p *program) stop() {
	_ = p.cmd.Process.Signal(syscall.SIGTERM)
	_ = p.cmd.Wait()
}

// cpu returns the processor seconds used so far.
func (p *program) cpu() (float64, error) {
	b, err := os.ReadFile("/proc/" + strconv.Itoa(p.cmd.Process.Pid) + "/stat")
	if err != nil {
		return 0, err
	}
	f := strings.Fields(string(b)[strings.LastIndex(string(b), ")")+1:])
	user, err1 := strconv.ParseFloat(f[11], 64)
	system, err2 := strconv.ParseFloat(f[12], 64)
	const ticks = 100 // USER_HZ on Linux
	return (user + system) / ticks, errors.Join(err1, err2)
}

func (p *program) peakMiB() (float64, error) {
	file, err := os.Open("/proc/" + strconv.Itoa(p.cmd.Process.Pid) + "/status")
	if err != nil {
		return 0, err
	}
	defer file.Close()
	for lines := bufio.NewScanner(file); lines.Scan(); {
		if kb, ok := strings.CutPrefix(lines.Text(), "VmHWM:"); ok {
			n, err := strconv.ParseFloat(strings.Fields(kb)[0], 64)
			return n / 1024, err
		}
	}
	return 0, errors.New("no VmHWM in the process's status")
}

// papers enters the permits of the story, so that finds are held against
// papers with people and numbers on them.
func (p *program) papers(ctx context.Context) error {
	c := &demo.Client{Base: p.base, HTTP: http.DefaultClient}
	var got struct{ Access string }
	if err := c.Do(ctx, http.MethodPost, "/v1/sign-in", map[string]any{"code": p.office}, &got); err != nil {
		return err
	}
	c.Access = got.Access
	now := time.Now()
	for _, a := range demo.Papers(scenario.Build(1), permits.NewDate(now.Year(), int(now.Month()), now.Day())) {
		if err := c.Do(ctx, http.MethodPut, "/v1/permits/"+a.ID, a, nil); err != nil {
			return fmt.Errorf("enter %s: %w", a.ID, err)
		}
	}
	return nil
}

// meter counts the bytes of bodies in both directions.
type meter struct {
	up, down atomic.Int64
}

type counted struct {
	io.ReadCloser
	n *atomic.Int64
}

func (c counted) Read(b []byte) (int, error) {
	n, err := c.ReadCloser.Read(b)
	c.n.Add(int64(n))
	return n, err
}

// RoundTrip counts what goes through.
func (m *meter) RoundTrip(r *http.Request) (*http.Response, error) {
	m.up.Add(max(r.ContentLength, 0))
	resp, err := (&http.Transport{DisableCompression: true}).RoundTrip(r)
	if err == nil {
		resp.Body = counted{resp.Body, &m.down}
	}
	return resp, err
}

func (p *program) phone(ctx context.Context) (*demo.Phone, *meter, error) {
	m := new(meter)
	c := &demo.Client{Base: p.base, HTTP: &http.Client{Transport: m}}
	sum := sha256.Sum256([]byte("bench"))
	dev := op.DeviceID(sum[:16])
	var got struct {
		Access      string
		Institution string
	}
	in := map[string]any{"code": p.phones, "device": map[string]any{"id": dev.String(), "name": "bench"}}
	if err := c.Do(ctx, http.MethodPost, "/v1/sign-in", in, &got); err != nil {
		return nil, nil, err
	}
	c.Access = got.Access
	return demo.NewPhone(c, dev, "bench-salvager", got.Institution, "BNC"), m, nil
}

// screened waits until everything that was pushed is screened, which holds as
// soon as anything of the log is handed out, and returns the processor seconds
// used so far.
func (p *program) screened(ctx context.Context, phone *demo.Phone) (float64, error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, p.base+"/v1/sync/pull?limit=1", nil)
	if err != nil {
		return 0, err
	}
	req.Header.Set("Authorization", "Bearer "+phone.Client.Access)
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		return 0, err
	}
	_, err = io.Copy(io.Discard, resp.Body)
	if err := errors.Join(err, resp.Body.Close()); err != nil {
		return 0, err
	}
	if resp.StatusCode != http.StatusOK {
		return 0, fmt.Errorf("pull: %s", resp.Status)
	}
	return p.cpu()
}

func pushNew(ctx context.Context, srv *program, phone *demo.Phone, m *meter) ([]line, error) {
	story := scenario.Build(1)
	before, err := srv.cpu()
	if err != nil {
		return nil, err
	}
	began, up := time.Now(), m.up.Load()
	size := 0
	for i := range newRecords {
		r := story.Reports[i%len(story.Reports)]
		r.Key = fmt.Sprintf("bench%05d", i)
		r.Photo = nil
		r.Truth.Animals = nil
		f, err := phone.NewFind(r, nil)
		if err != nil {
			return nil, err
		}
		if _, err := phone.Save(f.Made, f.Groups...); err != nil {
			return nil, err
		}
		if phone.Unsent() == pushBatch {
			body, err := phone.Body()
			if err != nil {
				return nil, err
			}
			size += len(body)
			if _, err := phone.Push(ctx); err != nil {
				return nil, err
			}
		}
	}
	after, err := srv.cpu()
	if err != nil {
		return nil, err
	}
	wall, bytes := time.Since(began).Seconds(), m.up.Load()-up
	screened, err := srv.screened(ctx, phone)
	return []line{
		atMost("push of 10,000 new finds, server", after-before, 1.0, "CPU-seconds", "until the last receipt: durable, hashed, each operation judged"),
		only("their screening by the rules", screened-after, "CPU-seconds", "until every verdict is durable"),
		only("push of 10,000 new finds", newRecords/wall, "a second", fmt.Sprintf("one phone, batches of %d", pushBatch)),
		atMost("a new find on the wire", float64(bytes)/newRecords, 350, "bytes", fmt.Sprintf("of %d bytes of operation", size/newRecords)),
	}, err
}

func pushEdits(ctx context.Context, srv *program, phone *demo.Phone, m *meter) ([]line, error) {
	before, err := srv.cpu()
	if err != nil {
		return nil, err
	}
	up, down := m.up.Load(), m.down.Load()
	at := time.Now()
	for i := range edits {
		id := demo.RecordID("report", fmt.Sprintf("bench%05d", i*7919%newRecords))
		g := op.Group{ID: id, Kind: "report", Acts: []op.Act{op.Set("band", op.Text(fmt.Sprintf("0998-%05d", i*31%100000)))}}
		if _, err := phone.Save(at.Add(time.Duration(i)*time.Second), g); err != nil {
			return nil, err
		}
		if phone.Unsent() == editBatch {
			if _, err := phone.Push(ctx); err != nil {
				return nil, err
			}
		}
	}
	after, err := srv.cpu()
	if err != nil {
		return nil, err
	}
	up, down = m.up.Load()-up, m.down.Load()-down
	screened, err := srv.screened(ctx, phone)
	return []line{
		atMost("an edit of one field on the wire", float64(up)/edits, 60, "bytes", fmt.Sprintf("batches of %d; answers took %.0f bytes an edit", editBatch, float64(down)/edits)),
		only("push of 10,000 edits, server", after-before, "CPU-seconds", "until the last receipt"),
		only("screening what they changed", screened-after, "CPU-seconds", "until every new verdict is durable"),
	}, err
}
