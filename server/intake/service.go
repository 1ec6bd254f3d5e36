package intake

import (
	"context"
	"sync"
	"sync/atomic"
	"time"

	"wayfall/permits"
	"wayfall/permits/rules"
	"wayfall/permits/screen/land"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
)

// Log is what intake reads of the log.
type Log interface {
	// Read returns up to limit entries with a place after the given one.
	Read(ctx context.Context, after uint64, limit int) ([]oplog.Entry, error)
	// Record returns a record as folded, or a fault of kind Missing.
	Record(ctx context.Context, id op.ID) (merge.State, error)
}

// Hand is who does something, and what the server's clock said.
type Hand struct {
	Person string
	AtMS   int64  // Unix milliseconds
	Local  string // the same moment as civil time at the institution, "2006-01-02T15:04"
	Zone   string // its offset, "-04:00"
}

// Read reads a record as it is at the end of the log; one that nobody wrote to
// is empty.
type Read func(id op.ID) (merge.State, error)

// Writer appends operations of the server's own device to the log.
type Writer interface {
	// WriteIf appends one operation in the name of the person; decide runs
	// while nothing else can enter the log, and what it reads is still true
	// when its groups are appended. Without groups nothing is written.
	WriteIf(ctx context.Context, by Hand, decide func(read Read) ([]op.Group, error)) error
	// WriteAll appends one operation for each save in the name of the person,
	// all of them or none, and returns the places of the first and the last.
	WriteAll(ctx context.Context, by Hand, saves [][]op.Group) (first, last uint64, err error)
}

// Rules are what reports are held against.
type Rules struct {
	Book      *rules.Book
	Checklist *permits.Checklist
	Land      *land.Map // drawn units of ground; nil: none
}

// Needs is what intake stands on.
type Needs struct {
	Log    Log
	Writer Writer
	Rules  Rules
	Ground Ground
	// Role says how the rules see a person: public, volunteer, staff or holder.
	Role func(person string) string
	// Name is what people call a person; nil, or "" from it, leaves the id.
	Name func(person string) string
	// Knows tells whether anybody here is called by that id. Nil: whoever a
	// paper lists is taken as known.
	Knows func(ctx context.Context, person string) (bool, error)
	// Tag gives the next free bag tag of the server's own book; nil gives none.
	Tag  func(ctx context.Context) (string, error)
	Now  func() time.Time
	Zone *time.Location // of the institution
}

// Intake judges what comes in. Its methods may be called from any goroutine.
type Intake struct {
	log    Log
	writer Writer
	rules  Rules
	ground Ground
	role   func(person string) string
	needs  Needs

	mu     sync.Mutex
	world  *world
	memory *memory
	sound  sound
	papers atomic.Pointer[map[string]bool] // ids of authorities, for the judge
	crew   atomic.Pointer[Crew]

	barsChanged atomic.Bool // since finds were screened last
}

// Open returns an intake over the log. It reads the log when first asked.
func Open(n Needs) *Intake {
	if n.Zone == nil {
		n.Zone = time.UTC
	}
	if n.Name == nil {
		n.Name = func(string) string { return "" }
	}
	if n.Role == nil {
		n.Role = func(string) string { return "" }
	}
	in := &Intake{log: n.Log, writer: n.Writer, rules: n.Rules, ground: n.Ground, role: n.Role, needs: n, world: newWorld(), memory: newMemory()}
	in.crew.Store(&Crew{})
	return in
}

// called returns what people call the person.
func (in *Intake) called(person string) string {
	if name := in.needs.Name(person); name != "" {
		return name
	}
	return person
}

func (in *Intake) serverHand() Hand {
	now := in.needs.Now().In(in.needs.Zone)
	return Hand{Person: ServerActor, AtMS: now.UnixMilli(), Local: now.Format(civil), Zone: now.Format("-07:00")}
}
