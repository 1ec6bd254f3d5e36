package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"time"

	"wayfall/fixtures/scenario"
	"wayfall/permits"
	"wayfall/server"
	"wayfall/server/demo"
	"wayfall/server/people"
)

type demoCommand struct {
	Folder string `help:"Folder of the demo's store." default:"demo-data"`
	Listen string `help:"Address to serve on." default:"127.0.0.1:8470"`
	Seed   uint64 `help:"Which invented year." default:"1"`
}

// poured marks a folder into which the whole story went.
const poured = "poured"

// Run pours the story on the first start, goes on with what is there on every
// later one, and serves until ctx ends.
func (c *demoCommand) Run(ctx context.Context, out io.Writer) error {
	story := scenario.Build(c.Seed)
	w := where{kept: kept{Folder: c.Folder}, Listen: c.Listen, Key: story.Institution.Key, Title: story.Institution.Name, Zone: story.Institution.Zone}
	if err := c.startOver(out); err != nil {
		return err
	}
	s, err := w.open(true, demo.Around(story))
	if err != nil {
		return err
	}
	if _, err := os.Stat(filepath.Join(c.Folder, poured)); err != nil {
		if err := c.pour(ctx, out, s, story); err != nil {
			return errors.Join(fmt.Errorf("pour the demo: %w", err), s.Close())
		}
	}
	links, err := c.links(ctx, s, story)
	if err != nil {
		return errors.Join(err, s.Close())
	}
	return w.serve(ctx, s, func(addr string) {
		fmt.Fprintf(out, "\n%s, in %s\n\n", story.Institution.Name, c.Folder)
		for _, l := range links {
			fmt.Fprintf(out, "  %-16s %s\n", l.who, "http://"+addr+l.path)
		}
		fmt.Fprint(out, "\nEverybody and everything but the map is invented; the rules are samples. Ctrl-C ends it.\n")
	})
}

// startOver empties a folder in which pouring was interrupted.
func (c *demoCommand) startOver(out io.Writer) error {
	if _, err := os.Stat(filepath.Join(c.Folder, poured)); err == nil {
		return nil
	}
	if _, err := os.Stat(filepath.Join(c.Folder, "wayfall.db")); err != nil {
		return nil
	}
	fmt.Fprintf(out, "pouring into %s was interrupted; it starts over\n", c.Folder)
	for _, name := range []string{"wayfall.db", "wayfall.db-wal", "wayfall.db-shm", "wayfall.db.blobs"} {
		if err := os.RemoveAll(filepath.Join(c.Folder, name)); err != nil {
			return err
		}
	}
	return nil
}

func (c *demoCommand) pour(ctx context.Context, out io.Writer, s *server.Server, story scenario.Story) error {
	// Pouring speaks HTTP like everybody else, on an address of its own.
	inner := httptest.NewServer(s.Handler())
	defer inner.Close()
	now := time.Now()
	setup := demo.Setup{
		Base: inner.URL, HTTP: inner.Client(), Story: story,
		Today: permits.NewDate(now.Year(), int(now.Month()), now.Day()),
		Code:  demo.Inviter(s.People()), Place: demo.Placer(s.Places()),
		Step: func(done, of int, what string) { fmt.Fprintf(out, "\r%s", bar(done, of, what)) },
	}
	if _, err := demo.Pour(ctx, setup); err != nil {
		return err
	}
	fmt.Fprintln(out)
	return os.WriteFile(filepath.Join(c.Folder, poured), []byte("the whole story is in this store\n"), 0o600)
}

func bar(done, of int, what string) string {
	const width = 30
	full := done * width / of
	return fmt.Sprintf("pouring  %s%s %3d %%  %-14s", strings.Repeat("#", full), strings.Repeat(".", width-full), done*100/of, what)
}

type signInLink struct{ who, path string }

// links lets the three people in whose day the demo shows. The codes stay
// good, so that a second run prints links that work too.
func (c *demoCommand) links(ctx context.Context, s *server.Server, story scenario.Story) ([]signInLink, error) {
	var out []signInLink
	for _, l := range []struct{ who, person string }{
		{"salvager", "ana"}, {"permit officer", "desmond"}, {"registrar", "gwendolyn"},
	} {
		p, err := s.People().Person(ctx, l.person)
		if err != nil {
			return nil, err
		}
		code, err := s.People().IssueCode(ctx, p.ID, people.CodeTerms{Lasts: 30 * 24 * time.Hour, Reusable: true})
		if err != nil {
			return nil, err
		}
		full := link("", p, code)
		out = append(out, signInLink{l.who, strings.TrimPrefix(full, "http://")})
	}
	return out, nil
}
