package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"runtime/debug"
	"time"

	"wayfall/fixtures/packs"
	"wayfall/server"
	"wayfall/server/people"
)

const version = "0.1"

type serveCommand struct {
	where
}

// Run serves until ctx ends.
func (c *serveCommand) Run(ctx context.Context, out io.Writer) error {
	s, err := c.open(false)
	if err != nil {
		return err
	}
	return c.serve(ctx, s, func(addr string) {
		fmt.Fprintf(out, "serving %s on http://%s\n", c.Title, addr)
	})
}

// heapRoom is by how many percent the memory in use may grow before it is
// cleaned up. 100 is usual in Go. While a season was handed in and screened
// (go run ./cmd/bench), 40 held the program to 77 MiB instead of 105 and took
// about a fifth more processor time, on what is often a small machine that is
// idle for most of the day. The variable GOGC overrules it.
const heapRoom = 40

// open opens the store and wires the server.
func (w where) open(demo bool, changes ...func(*server.Config)) (*server.Server, error) {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(heapRoom)
	}
	zone, err := time.LoadLocation(w.Zone)
	if err != nil {
		return nil, fmt.Errorf("time zone: %w", err)
	}
	cfg := server.Config{
		Folder: w.Folder, Store: w.Store, Institution: w.Key, Name: w.Title, Zone: zone, Demo: demo, Version: version,
		Now: time.Now, Chance: rand.Reader, Taxa: packs.Taxa(),
		Log: slog.New(slog.NewTextHandler(os.Stderr, &slog.HandlerOptions{Level: slog.LevelWarn})),
	}
	for _, f := range packs.Rules() {
		cfg.Packs = append(cfg.Packs, server.File(f))
	}
	if w.Land != "" {
		text, err := os.ReadFile(w.Land)
		if err != nil {
			return nil, fmt.Errorf("units of ground: %w", err)
		}
		cfg.Land = &server.File{Name: filepath.Base(w.Land), Data: text}
	}
	for _, change := range changes {
		change(&cfg)
	}
	s, err := server.New(cfg)
	if err != nil {
		return nil, fmt.Errorf("open the store in %s: %w", w.Folder, err)
	}
	return s, nil
}

// serve listens, says where, and serves until ctx ends; then it closes the
// store.
func (w where) serve(ctx context.Context, s *server.Server, ready func(addr string)) error {
	l, err := net.Listen("tcp", w.Listen)
	if err != nil {
		return errors.Join(err, s.Close())
	}
	ready(l.Addr().String())
	return errors.Join(s.Serve(ctx, l), s.Close())
}

type inviteCommand struct {
	where
	ID   string   `help:"Short name of the person, for ever." required:""`
	Name string   `help:"Name of the person as people read it." required:""`
	Role []string `help:"What the person does; may be given more than once." enum:"salvager,permit_officer,registrar,preparator,reader" required:""`
}

// Run keeps the person and prints a link that works once within a week.
func (c *inviteCommand) Run(ctx context.Context, out io.Writer) error {
	s, err := c.open(false)
	if err != nil {
		return err
	}
	p := people.Person{ID: c.ID, Name: c.Name, Institution: c.Key}
	for _, r := range c.Role {
		p.Roles = append(p.Roles, people.Role(r))
	}
	code, err := invite(ctx, s, p, people.CodeTerms{Lasts: 7 * 24 * time.Hour})
	if err == nil {
		_, err = fmt.Fprintln(out, link(c.Listen, p, code))
	}
	return errors.Join(err, s.Close())
}

func invite(ctx context.Context, s *server.Server, p people.Person, t people.CodeTerms) (string, error) {
	if err := s.People().Keep(ctx, p); err != nil {
		return "", err
	}
	return s.People().IssueCode(ctx, p.ID, t)
}

// link leads a salvager to the field page and everybody else to the desk.
func link(addr string, p people.Person, code string) string {
	if p.May(people.Salvager) {
		return "http://" + addr + "/field/#code=" + code
	}
	return "http://" + addr + "/sign-in?code=" + code
}
