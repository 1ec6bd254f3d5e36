package main

import (
	"context"
	"fmt"
	"io"
	"path/filepath"

	"github.com/alecthomas/kong"
)

// commands is everything the program can be asked to do.
type commands struct {
	Serve   serveCommand   `cmd:"" help:"Serve the store in a folder to phones, desks and programs."`
	Demo    demoCommand    `cmd:"" help:"Pour an invented museum into a folder, serve it, and print sign-in links."`
	Invite  inviteCommand  `cmd:"" help:"Add a person, or more roles to one, and print a one-time sign-in link. Stop the server first."`
	Rules   rulesCommand   `cmd:"" help:"Look for faults in rule packs, or explain what they answer."`
	Verify  verifyCommand  `cmd:"" help:"Read a whole store and name the first thing that is not as it was written."`
	Backup  backupCommand  `cmd:"" help:"Copy a store and its photos while it serves, and read the copy back."`
	Restore restoreCommand `cmd:"" help:"Put a copy back into an empty folder."`
}

// kept names where a store is.
type kept struct {
	Folder string `help:"Folder of the store, or of its photos if it is kept in a database." default:"wayfall-data" env:"WAYFALL_FOLDER" placeholder:"DIR"`
	Store  string `help:"PostgreSQL database that keeps the store (postgres://…); a file in the folder if not given." env:"WAYFALL_STORE" placeholder:"URL"`
}

// path is what the store is opened by.
func (k kept) path() string {
	if k.Store != "" {
		return k.Store
	}
	return filepath.Join(k.Folder, storeFile)
}

func (k kept) photos() string { return filepath.Join(k.Folder, storeFile+".blobs") }

// where names the store and its institution.
type where struct {
	kept
	Listen string `help:"Address to serve on." default:"127.0.0.1:8470" env:"WAYFALL_LISTEN"`
	Key    string `help:"Short name of the institution, for ever." default:"museum" env:"WAYFALL_INSTITUTION"`
	Title  string `help:"Name of the institution as people read it." default:"Our museum" env:"WAYFALL_TITLE"`
	Zone   string `help:"Time zone of the institution." default:"Local" env:"WAYFALL_ZONE"`
	Land   string `help:"File of drawn units of ground: refuges, parks, tribal land." env:"WAYFALL_LAND" placeholder:"FILE"`
}

// run reads the arguments and does what they ask for until ctx ends.
func run(ctx context.Context, args []string, out io.Writer) error {
	var c commands
	var help bool
	parser, err := kong.New(&c, kong.Name("wayfall"),
		kong.Description("From a carcass at the roadside to a catalogued animal and a filed report."),
		kong.Writers(out, out), kong.Exit(func(int) { help = true }),
		kong.BindTo(ctx, (*context.Context)(nil)), kong.BindTo(out, (*io.Writer)(nil)))
	if err != nil {
		return err
	}
	parsed, err := parser.Parse(args)
	if help {
		return nil
	}
	if err != nil {
		return fmt.Errorf("%w; see wayfall --help", err)
	}
	return parsed.Run()
}
