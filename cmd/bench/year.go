package main

import (
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"os"
	"strconv"
	"syscall"
	"time"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/server/reports"
	"wayfall/sync/clock"
	"wayfall/sync/merge"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// The book of the year: half of the records are reports, half their animals.
const yearRecords = 1_000_000

// season is a log in which every state is made when it is asked for, so that
// the book alone takes memory: n finds over some years, ten persons, twelve
// species, twenty counties, one paper with a number per species and one for
// everything.
type season struct {
	finds, years int
	verdict      op.Value
	paper        op.Value
}

const seasonPaper = `{"id":"STATE","version":1,"kind":"state_salvage","basis":"b","jurisdiction":"US-MI","holder":"museum","valid_from":"2001-01-01","valid_to":"2030-12-31","status":"active",
"area":["US-MI"],"taxa_include":["Aves"],"activities":["salvage"],"report_due":"01-31","persons":[{"id":"p0"},{"id":"p1"},{"id":"p2"},{"id":"p3"}],
"quotas":[{"id":"EACH","per":"taxon","limit":2000000,"window":"calendar_year"},{"id":"ALL","per":"all","limit":2000000,"window":"permit_life"}]}`

func newSeason(finds, years int) (*season, error) {
	v := permits.Verdict{Outcome: permits.AllowWithObligations, Act: permits.Take, Relies: []permits.Reliance{{Authority: "STATE"}},
		Obligations: []permits.Obligation{{Code: "TAG"}, {Code: "DEPOSIT", Due: permits.Due{At: permits.NewDate(2099, 12, 31).At(0, 0)}}}}
	verdict, err := op.ValueOf(v)
	if err != nil {
		return nil, err
	}
	paper, err := op.ValueOf(json.RawMessage(seasonPaper))
	return &season{finds: finds, years: years, verdict: verdict, paper: paper}, err
}

func numbered(n uint64) (id op.ID) {
	binary.BigEndian.PutUint64(id[:], n*0x9E3779B97F4A7C15) // spread, as random ids are
	binary.BigEndian.PutUint64(id[8:], n)
	return id
}

// Touched returns the records of the log, and the paper last.
func (s *season) Touched(_ context.Context, after uint64) ([]op.ID, catalogue.Place, bool, error) {
	last := uint64(2*s.finds + 1)
	end := min(after+1000, last)
	var ids []op.ID
	for n := after; n < end; n++ {
		ids = append(ids, numbered(n))
	}
	return ids, catalogue.Place{LSN: end, AtMS: 1767225600000}, end < last, nil
}

// State makes a record.
func (s *season) State(_ context.Context, id op.ID) (merge.State, error) {
	n := binary.BigEndian.Uint64(id[8:])
	find := int(n / 2)
	g := op.Group{ID: id, Kind: string(record.Animal)}
	switch {
	case n == uint64(2*s.finds):
		g.Kind, g.Acts = string(record.Authority), []op.Act{op.Set("document", s.paper)}
	case n%2 == 0:
		g.Kind = string(record.Report)
		day := fmt.Sprintf("%04d-%02d-%02dT%02d:%02d", 2026-s.years+find%s.years, 1+find/7%12, 1+find/11%28, find%24, find%60)
		g.Acts = []op.Act{op.Event("verdicts", s.verdict), op.Add("animals", op.Text(numbered(n+1).String())), op.Set("deed", op.Text("taken")), op.Set("authority", op.Text("STATE"))}
		for _, f := range []struct {
			name string
			v    any
		}{{"found", record.When{Earliest: day, Latest: day, Precision: record.ToMinute, Zone: "-04:00"}}, {"salvager", "p" + strconv.Itoa(find%10)},
			{"taxon", record.Determination{Written: "Bird", Name: "Avis numerata" + strconv.Itoa(find%12), Certainty: record.Sure}},
			{"place", record.Georeference{Known: true, Lat: 43, Lon: -86, Radius: 30, State: "Michigan", County: "County " + strconv.Itoa(find/3%20)}}} {
			v, err := op.ValueOf(f.v)
			if err != nil {
				return merge.State{}, err
			}
			g.Acts = append(g.Acts, op.Set(f.name, v))
		}
	default:
		g.Acts = []op.Act{op.Add("tags", op.Text("T"+strconv.Itoa(find))), op.Set("disposition", op.Text([]string{"received", "private_freezer", "received", "agency"}[find%4]))}
	}
	state := merge.New(id, record.Kind(g.Kind))
	at := time.UnixMilli(1700000000000 + int64(n))
	state.Apply(op.Op{Dev: op.DeviceID{1}, Seq: n + 1, HLC: clock.At(at), Actor: "p", Scope: "museum", Schema: 1, On: []op.Group{g}}, merge.Receipt{LSN: n + 1, Eff: clock.At(at)})
	return state, nil
}

// yearOf measures one year out of a book on a warm server, with ten years in
// the book and with all of it in one.
func yearOf(ctx context.Context) ([]line, error) {
	var out []line
	for _, years := range []int{10, 1} {
		one, err := yearOutOf(ctx, years)
		if err != nil {
			return nil, err
		}
		out = append(out, one)
	}
	return append(out, only("memory of that", peak(), "MiB", "peak of the bench itself: both books, one after the other")), nil
}

func yearOutOf(ctx context.Context, years int) (line, error) {
	fmt.Fprintf(os.Stderr, "a book of %d records over %d years …\n", yearRecords, years)
	wall, cpu, err := bestYear(ctx, yearRecords, years, 3)
	const finds = yearRecords / 2
	note := fmt.Sprintf("%d animals of %d, best of 3, %.2f CPU-seconds, load %s; the sums and every animal, not yet written out", finds/years, finds, cpu, load())
	return atMost(fmt.Sprintf("year out of 1,000,000 records, %d years in all", years), wall, 2, "s", note), err
}

// bestYear gives the seconds of the quickest of some times that one year was
// taken out of a warm book of so many records.
func bestYear(ctx context.Context, records, years, times int) (wall, cpu float64, err error) {
	finds := records / 2
	s, err := newSeason(finds, years)
	if err != nil {
		return 0, 0, err
	}
	office := &reports.Office{Book: catalogue.Open(s, catalogue.Surroundings{})}
	if _, err := office.Year(ctx, "STATE", 2025); err != nil { // folds the log
		return 0, 0, err
	}
	for range times {
		began, used := time.Now(), spent()
		y, err := office.Year(ctx, "STATE", 2025)
		if err != nil {
			return 0, 0, err
		}
		if y.Total != finds/years || y.All != y.Total {
			return 0, 0, fmt.Errorf("the year has %d animals, %d of them covered, want %d", y.All, y.Total, finds/years)
		}
		if w := time.Since(began).Seconds(); wall == 0 || w < wall {
			wall, cpu = w, spent()-used
		}
	}
	return wall, cpu, nil
}

func spent() float64 {
	var u syscall.Rusage
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &u)
	return time.Duration(u.Utime.Nano() + u.Stime.Nano()).Seconds()
}

func peak() float64 {
	var u syscall.Rusage
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &u)
	return float64(u.Maxrss) / 1024
}

// load is the load average of the last minute, which colours every time.
func load() string {
	text, _ := os.ReadFile("/proc/loadavg")
	var one string
	_, _ = fmt.Sscan(string(text), &one)
	return one
}
