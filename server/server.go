// Package server introduces everyone to everyone: it opens the store, loads
// rule packs and boundaries, and wires the deciding packages to the interface
// for programs and to the desk.
//
// It promises that one list names every route, that a server which stops has
// finished what it began, and that nothing here decides anything.
package server

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"time"

	"github.com/labstack/echo/v4"

	"wayfall/geo/gazetteer"
	"wayfall/geo/region"
	"wayfall/geo/sanity"
	"wayfall/permits"
	"wayfall/permits/escrow"
	"wayfall/permits/rules"
	"wayfall/permits/screen/find"
	"wayfall/permits/screen/land"
	"wayfall/server/api"
	"wayfall/server/catalogue"
	"wayfall/server/fault"
	"wayfall/server/intake"
	"wayfall/server/people"
	"wayfall/server/reports"
	"wayfall/server/store"
	"wayfall/server/web"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
)

// File is one file of rules.
type File struct {
	Name string
	Data []byte
}

// Config is what a server needs from outside.
type Config struct {
	Folder      string // where the store keeps its files; made if it is not there
	Store       string // URL of a PostgreSQL database; "" is a file in the folder
	Institution string // the id of the institution, the scope of its log
	Name        string // its name, for people
	Zone        *time.Location
	Demo        bool
	Paper       string // on which files are set, "a4" or "letter"; "" is A4, Letter in a demonstration
	Version     string
	Now         func() time.Time
	Chance      io.Reader
	Log         *slog.Logger
	Packs       []File // rule packs in loading order
	Taxa        []byte // the checklist
	Land        *File  // drawn units of ground; nil: none
	// Lines are boundary lines in their compact form; nil takes those that
	// were built in, and none if there are none.
	Lines []byte
	Home  []region.ID    // states in which the institution collects; none: anywhere
	Sites []sanity.Place // places where reports are typed
	// Seen is told of every route and may wrap every handler; tests use it.
	Wrap func(http.Handler) http.Handler
	// Tries is how often one address may try to sign in at once; 0 is 20.
	Tries int
}

// Server is one museum's server.
type Server struct {
	cfg    Config
	store  *store.Store
	people *people.Book
	log    *ledger
	sync   *exchanger
	kit    *kit
	intake *intake.Intake
	book   *catalogue.Book
	office *reports.Office
	lender *lender
	lines  *region.Map
	units  *land.Map       // drawn units of ground
	drawn  json.RawMessage // the same as phones are given them
	names  find.Names      // nil if no list of towns was built in
	api    *api.API
	desk   *web.Desk
	echo   *echo.Echo
	around catalogue.Surroundings
	past   past
	sealer sealer
}

// New opens the store and wires everything. Close it when it is done.
func New(cfg Config) (*Server, error) {
	if cfg.Log == nil {
		cfg.Log = slog.New(slog.DiscardHandler)
	}
	if cfg.Zone == nil {
		cfg.Zone = time.UTC
	}
	if cfg.Institution == "" || cfg.Now == nil || cfg.Chance == nil {
		return nil, errors.New("a server needs an institution, a clock and a source of chance")
	}
	rulebook, list, err := loadRules(cfg)
	if err != nil {
		return nil, err
	}
	s := &Server{cfg: cfg}
	if s.units, s.drawn, err = loadLand(cfg.Land); err != nil {
		return nil, err
	}
	if s.lines, err = loadLines(cfg.Lines); err != nil {
		return nil, err
	}
	if s.names, err = loadTowns(); err != nil {
		return nil, err
	}
	if err := os.MkdirAll(cfg.Folder, 0o700); err != nil {
		return nil, err
	}
	at := cfg.Store
	if at == "" {
		at = filepath.Join(cfg.Folder, "wayfall.db")
	}
	s.store, err = store.Open(at, store.Options{Now: cfg.Now, Random: cfg.Chance, Judge: s.judge, Photos: filepath.Join(cfg.Folder, "wayfall.db.blobs")})
	if err != nil {
		return nil, err
	}
	if err := s.wire(rulebook, list); err != nil {
		return nil, errors.Join(err, s.store.Close())
	}
	return s, nil
}

// judge is asked by the store from its first push on, which is after wire.
func (s *Server) judge(_ *store.Tx, o op.Op) oplog.Ruling {
	return s.intake.Judge(o, s.cfg.Now())
}

func loadRules(cfg Config) (*rules.Book, *permits.Checklist, error) {
	var all []*rules.Pack
	for _, f := range cfg.Packs {
		p, err := rules.Load(f.Name, f.Data)
		if err != nil {
			return nil, nil, fmt.Errorf("rule pack %s: %w", f.Name, err)
		}
		all = append(all, p)
	}
	book, err := rules.NewBook(all...)
	if err != nil {
		return nil, nil, fmt.Errorf("rule packs: %w", err)
	}
	list, err := permits.ReadChecklist(cfg.Taxa)
	if err != nil {
		return nil, nil, fmt.Errorf("checklist: %w", err)
	}
	return book, list, nil
}

// The built-in boundary lines: of the whole country for the server, and of the
// home region, which phones are given.
const (
	allLines  = "counties.bin"
	homeLines = "home.bin"
	allTowns  = "places.bin"
)

// loadLines reads boundary lines. Without any, states are what people say.
func loadLines(wire []byte) (*region.Map, error) {
	if wire == nil {
		var err error
		if wire, err = fs.ReadFile(web.Built(), allLines); err != nil {
			return nil, nil
		}
	}
	lines, err := region.Decode(wire)
	if err != nil {
		return nil, fmt.Errorf("boundary lines: %w", err)
	}
	return region.Build(lines)
}

// loadTowns reads the list of towns. Without any, words stay words.
func loadTowns() (find.Names, error) {
	wire, err := fs.ReadFile(web.Built(), allTowns)
	if err != nil {
		return nil, nil
	}
	list, err := gazetteer.Decode(wire)
	if err != nil {
		return nil, fmt.Errorf("list of towns: %w", err)
	}
	return list, nil
}

func (s *Server) wire(rulebook *rules.Book, list *permits.Checklist) error {
	cfg, ctx := s.cfg, context.Background()
	tokens, err := s.store.Key(ctx, "access tokens")
	if err != nil {
		return err
	}
	cursors, err := s.store.Key(ctx, "cursors")
	if err != nil {
		return err
	}
	s.people, err = people.Open(shelves{s.store}, people.Terms{Issuer: "wayfall:" + cfg.Institution, Key: tokens, Now: cfg.Now, Chance: cfg.Chance})
	if err != nil {
		return err
	}
	s.log = &ledger{store: s.store, scope: cfg.Institution}
	s.around = surroundings(s.lines, list, cfg.Zone)
	staff := &crew{people: s.people, server: s.store.Identity().Device}
	live := s.around
	live.Asks, live.Keeper = papersAsk{rulebook, s.today, staff.officerOf}.of, staff.officerOf
	s.book = catalogue.Open(&reading{ledger: s.log}, live)
	s.office = &reports.Office{Book: s.book, Names: list, Zone: cfg.Zone}
	s.lender = &lender{s: s, wins: map[string]escrow.Number{}}
	s.office.Lent = s.lender.lent
	if err := s.lender.wake(ctx); err != nil {
		return err
	}
	ground := intake.Ground{Map: s.lines, Around: sanity.Surroundings{Places: cfg.Sites}}
	if s.lines != nil && len(cfg.Home) > 0 {
		ground.Around.Home = sanity.HomeOf(s.lines, cfg.Home...)
	}
	s.intake = intake.Open(intake.Needs{Log: s.log, Writer: intakeWriter{s.log}, Rules: intake.Rules{Book: rulebook, Checklist: list, Land: s.units},
		Ground: ground, Role: staff.role, Name: staff.name, Knows: s.knows, Tag: (&tagBook{s.people, shelves{s.store}, s.store.Identity().Device}).next,
		Now: cfg.Now, Zone: cfg.Zone})
	staff.intake = s.intake
	if err := staff.refresh(ctx); err != nil {
		return err
	}
	s.sync = &exchanger{store: s.store, people: s.people, crew: staff, scope: cfg.Institution, key: cursors, now: cfg.Now,
		screen: &screener{intake: s.intake, log: cfg.Log}}
	s.kit = &kit{server: s, packs: cfg.Packs, taxa: cfg.Taxa}
	clerk := &catalogue.Clerk{Book: s.book, Writer: deskWriter{s.log}, NewID: s.newID}
	s.api = api.New(api.Needs{Institution: cfg.Institution, Version: cfg.Version, Now: cfg.Now, Zone: cfg.Zone, Log: cfg.Log,
		People: s.people, Sync: s.sync, Book: s.book, Hands: clerk, Office: s.office, Desk: watch{s.intake, s.lender}, Photos: photos{s.store},
		Kit: s.kit.make, Keep: rulebook.Keep, Met: staff.met, Answers: shelves{s.store}, Tries: cfg.Tries})
	s.sealer = sealer{s.store, cfg.Log}
	s.desk = s.newDesk(clerk)
	s.echo = s.routes()
	// What was pushed and not yet screened when the program ended, and what
	// newer rules say, comes before anything is asked.
	_, err = s.intake.Screen(ctx)
	return err
}

// knows tells whether anybody here is called by that id.
func (s *Server) knows(ctx context.Context, person string) (bool, error) {
	_, err := s.people.Person(ctx, person)
	if fault.Is(err, fault.Missing) {
		return false, nil
	}
	return err == nil, err
}

func (s *Server) newID() (id op.ID, err error) {
	_, err = io.ReadFull(s.cfg.Chance, id[:])
	return id, err
}

// People is the list of people, for whoever invites them.
func (s *Server) People() *people.Book { return s.people }

// Handler answers every request.
func (s *Server) Handler() http.Handler {
	var h http.Handler = s.echo
	if s.cfg.Wrap != nil {
		h = s.cfg.Wrap(h)
	}
	return h
}

// Serve answers on the listener until ctx ends, then finishes what was begun.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	srv := &http.Server{Handler: s.Handler(), ReadHeaderTimeout: 10 * time.Second, ReadTimeout: 5 * time.Minute,
		WriteTimeout: 5 * time.Minute, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 64 << 10,
		ErrorLog: slog.NewLogLogger(s.cfg.Log.Handler(), slog.LevelWarn)}
	ended := make(chan error, 1)
	go s.sealer.run(ctx)
	go func() { ended <- srv.Serve(l) }()
	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
	}
	patience, cancel := context.WithTimeout(context.WithoutCancel(ctx), 20*time.Second)
	defer cancel()
	if err := srv.Shutdown(patience); err != nil {
		return fmt.Errorf("stop serving: %w", err)
	}
	return nil
}

// Close screens what was pushed, seals the log and ends the store. Nothing may
// be served afterwards.
func (s *Server) Close() error {
	s.sync.screen.settle()
	s.sealer.seal(context.Background())
	return s.store.Close()
}

// Routes lists every route that is mounted.
func (s *Server) Routes() []*echo.Route { return s.echo.Routes() }
