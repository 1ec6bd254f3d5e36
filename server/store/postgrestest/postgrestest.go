// Package postgrestest lends tests a PostgreSQL server of their own.
//
// It starts one the first time a test of the process asks, in a new folder, on
// a socket that nobody else reaches, as the system's user postgres if the
// tests run as root. It goes with the process, whatever ends that. It never
// touches a server that is already there.
package postgrestest

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

var (
	once    sync.Once
	running *cluster
	failed  error
	count   atomic.Int64
)

type cluster struct {
	folder string
	stop   func()
}

// Database returns the URL of a new, empty database.
func Database(t testing.TB) string {
	t.Helper()
	once.Do(func() { running, failed = start() })
	if failed != nil {
		t.Fatalf("PostgreSQL could not be started (Debian: postgresql): %v", failed)
	}
	name := fmt.Sprint("test", count.Add(1))
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	c, err := pgx.Connect(ctx, running.url("postgres"))
	if err != nil {
		t.Fatal(err)
	}
	_, err = c.Exec(ctx, "CREATE DATABASE "+name)
	if err := errors.Join(err, c.Close(ctx)); err != nil {
		t.Fatal(err)
	}
	return running.url(name)
}

// Stop stops the server, if one was started. TestMain calls it.
func Stop() {
	if running != nil {
		running.stop()
		_ = os.RemoveAll(running.folder) // a folder of ours in the system's folder for such
	}
}

func (c *cluster) url(database string) string {
	q := url.Values{"host": {c.folder}, "user": {"postgres"}}
	return "postgres:///" + database + "?" + q.Encode()
}

func start() (*cluster, error) {
	bin, err := programs()
	if err != nil {
		return nil, err
	}
	folder, err := os.MkdirTemp("", "wf-pg-") // short: a socket's path has a limit
	if err != nil {
		return nil, err
	}
	as, err := runAs(folder)
	if err != nil {
		return nil, err
	}
	data := filepath.Join(folder, "data")
	init := exec.Command(filepath.Join(bin, "initdb"), "-D", data, "-U", "postgres", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync")
	init.SysProcAttr, init.Dir = &syscall.SysProcAttr{Credential: as}, folder
	if out, err := init.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("%w: %s", err, out)
	}
	c := &cluster{folder: folder}
	if c.stop, err = serve(bin, data, folder, as); err != nil {
		return nil, err
	}
	return c, c.ready()
}

// programs finds the newest PostgreSQL that is installed.
func programs() (string, error) {
	all, err := filepath.Glob("/usr/lib/postgresql/*/bin")
	if err == nil && len(all) > 0 {
		slices.SortFunc(all, func(a, b string) int { return version(a) - version(b) })
		return all[len(all)-1], nil
	}
	path, err := exec.LookPath("initdb")
	return filepath.Dir(path), err
}

func version(bin string) int {
	n, _ := strconv.Atoi(filepath.Base(filepath.Dir(bin))) // a folder that is no number comes first
	return n
}

// runAs returns whom PostgreSQL runs as: it refuses root.
func runAs(folder string) (*syscall.Credential, error) {
	if os.Getuid() != 0 {
		return nil, nil
	}
	u, err := user.Lookup("postgres")
	if err != nil {
		return nil, err
	}
	uid, err1 := strconv.Atoi(u.Uid)
	gid, err2 := strconv.Atoi(u.Gid)
	if err := errors.Join(err1, err2, os.Chown(folder, uid, gid)); err != nil {
		return nil, err
	}
	return &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}, nil
}

// serve starts the server on a thread that stays, since the server is told to
// go when the thread that started it does.
func serve(bin, data, folder string, as *syscall.Credential) (stop func(), err error) {
	cmd := exec.Command(filepath.Join(bin, "postgres"), "-D", data, "-k", folder, "-c", "listen_addresses=")
	cmd.Dir = folder
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: as, Pdeathsig: syscall.SIGQUIT, Setpgid: true}
	log, err := os.Create(filepath.Join(folder, "log"))
	if err != nil {
		return nil, err
	}
	cmd.Stdout, cmd.Stderr = log, log
	started, ended := make(chan error), make(chan struct{})
	go func() {
		runtime.LockOSThread()
		err := cmd.Start()
		started <- err
		if err == nil {
			_ = cmd.Wait()
		}
		_ = log.Close()
		close(ended)
	}()
	if err := <-started; err != nil {
		return nil, err
	}
	return func() {
		_ = cmd.Process.Signal(syscall.SIGINT)
		<-ended
	}, nil
}

func (c *cluster) ready() (err error) {
	for range 300 {
		ctx, cancel := context.WithTimeout(context.Background(), time.Second)
		var conn *pgx.Conn
		if conn, err = pgx.Connect(ctx, c.url("postgres")); err == nil {
			err = conn.Close(ctx)
			cancel()
			return err
		}
		cancel()
		time.Sleep(50 * time.Millisecond)
	}
	return err
}
