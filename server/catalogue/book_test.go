package catalogue

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"wayfall/permits"
	"wayfall/server/fault"
	"wayfall/sync/clock"
	"wayfall/sync/op"
	"wayfall/sync/record"
	"wayfall/sync/tag"
)

const startMS = 1760780400000 // 18 October 2025, 09:40 UTC

type bench struct {
	t     *testing.T
	log   *Memory
	book  *Book
	clerk *Clerk
	seq   map[byte]uint64
	ids   atomic.Uint64
}

func newBench(t *testing.T) *bench {
	log := &Memory{Device: op.DeviceID{255}, Scope: "museum"}
	b := &bench{t: t, log: log, book: Open(log, Surroundings{}), seq: map[byte]uint64{}}
	b.clerk = &Clerk{Book: b.book, Writer: log, NewID: func() (op.ID, error) { return b.id(), nil }}
	return b
}

func (b *bench) id() op.ID {
	var id op.ID
	binary.BigEndian.PutUint64(id[:], b.ids.Add(1))
	return id
}

// phone saves one operation on the phone of that number.
func (b *bench) phone(n byte, groups ...*group) {
	b.t.Helper()
	on, err := done(groups...)
	if err != nil {
		b.t.Fatal(err)
	}
	b.seq[n]++
	at := startMS + int64(b.seq[n])*60000
	b.log.Take(op.Op{
		Dev: op.DeviceID{n}, Seq: b.seq[n], HLC: clock.At(time.UnixMilli(at)), Wall: op.Wall{Millis: at, Zone: "-04:00", Source: "device"},
		Actor: fmt.Sprintf("p-%d", n), Scope: "museum", Schema: 1, On: on,
	}, at+5000)
}

func day(date string) record.When {
	return record.When{Earliest: date + "T00:00", Latest: date + "T23:59", Precision: record.ToDay, Zone: "-04:00"}
}

// find saves a find of one loon with that tag and returns its records.
func (b *bench) find(n byte, date, tagged string) (report, animal op.ID) {
	b.t.Helper()
	report, animal = b.id(), b.id()
	loon := record.Determination{Written: "Common Loon", Name: "Gavia immer"}
	b.phone(n,
		on(report, record.Report).set("found", day(date)).set("taxon", loon).set("deed", "taken").
			set("place", record.Georeference{Known: true, Lat: 43.95, Lon: -86.46, Radius: 40, State: "Michigan", County: "Mason"}).
			element("animals", animal.String()),
		on(animal, record.Animal).element("tags", tagged).set("taxon", loon).set("disposition", "private_freezer"))
	return report, animal
}

var registrar = Hand{Person: "p-stasik", AtMS: startMS + 3600000, Local: "2025-10-18T06:40", Zone: "-04:00"}

func makeTag(t *testing.T, n uint) string {
	t.Helper()
	made, err := tag.Make("K7Q", n)
	if err != nil {
		t.Fatal(err)
	}
	return made.String()
}

func (b *bench) animal(id op.ID) AnimalSheet {
	b.t.Helper()
	sheet, err := b.book.Animal(context.Background(), id.String())
	if err != nil {
		b.t.Fatal(err)
	}
	return sheet
}

func (b *bench) must(err error) {
	b.t.Helper()
	if err != nil {
		b.t.Fatal(err)
	}
}

func TestTwoReportsOfOneCarcassAreOneAnimalAndCanBeTakenApart(t *testing.T) {
	b, ctx := newBench(t), context.Background()
	_, bea := b.find(1, "2025-10-04", makeTag(t, 1))
	_, tom := b.find(2, "2025-10-04", makeTag(t, 2))
	count := func(want int) {
		t.Helper()
		list, err := b.book.Finds(ctx, Filter{})
		b.must(err)
		if list.Reports != 2 || list.Animals != want {
			t.Errorf("got %d reports of %d animals, want 2 of %d", list.Reports, list.Animals, want)
		}
	}
	count(2)
	b.must(b.clerk.Join(ctx, registrar, tom.String(), bea.String()))
	count(1)
	sheet := b.animal(bea)
	if len(sheet.Reports) != 2 || len(sheet.Others) != 1 || len(sheet.Tags) != 2 {
		t.Errorf("got %d reports, %d joined records, %d tags; want 2, 1, 2", len(sheet.Reports), len(sheet.Others), len(sheet.Tags))
	}
	if len(sheet.Theirs) != 1 || factNamed(sheet.Theirs[0], "tags").Shown().Text != makeTag(t, 2) {
		t.Errorf("what was said on the joined record is not on the page: %+v", sheet.Theirs)
	}
	if err := b.clerk.Join(ctx, registrar, bea.String(), tom.String()); !fault.Is(err, fault.Conflict) {
		t.Errorf("joining back made a ring: got %v, want a conflict", err)
	}
	joined := b.animal(tom)
	if joined.SameAs != bea.String() || len(joined.Joins) != 1 {
		t.Fatalf("the joined record says it is the same as %q by %d joins", joined.SameAs, len(joined.Joins))
	}
	b.must(b.clerk.Apart(ctx, registrar, tom.String(), []string{joined.Joins[0].Dot}))
	count(2)
}

func TestARingOfJoinsCountsOnce(t *testing.T) {
	b, ctx := newBench(t), context.Background()
	_, one := b.find(1, "2025-10-04", makeTag(t, 1))
	_, two := b.find(2, "2025-10-04", makeTag(t, 2))
	b.phone(1, on(one, record.Animal).set("same_as", two.String()))
	b.phone(2, on(two, record.Animal).set("same_as", one.String()))
	list, err := b.book.Finds(ctx, Filter{})
	b.must(err)
	if list.Animals != 1 {
		t.Errorf("got %d animals, want 1", list.Animals)
	}
}

func TestDifferingValuesStandSideBySideUntilSomebodyWhoSawBothSettles(t *testing.T) {
	b, ctx := newBench(t), context.Background()
	_, owl := b.find(1, "2025-10-04", makeTag(t, 1))
	b.phone(1, on(owl, record.Animal).set("cause", record.Cause{Cause: "vehicle"}))
	b.phone(2, on(owl, record.Animal).set("cause", record.Cause{Cause: "window"}))
	cause := factNamed(b.animal(owl).Facts, "cause")
	if !cause.Differs || len(cause.Said) != 2 || cause.Said[0].Who == cause.Said[1].Who {
		t.Fatalf("got %+v, want two values of two people that differ", cause)
	}
	b.phone(3, on(owl, record.Animal).set("cause", record.Cause{Cause: "cat"}))
	stale := Settlement{Field: "cause", Value: cause.Said[0].Value, Saw: cause.Saw()}
	if err := b.clerk.Settle(ctx, registrar, owl.String(), stale); !fault.Is(err, fault.Stale) {
		t.Errorf("settling without having seen the third value: got %v, want stale", err)
	}
	cause = factNamed(b.animal(owl).Facts, "cause")
	chosen := slices.IndexFunc(cause.Said, func(s Said) bool { return s.Text == "Cat" })
	b.must(b.clerk.Settle(ctx, registrar, owl.String(), Settlement{"cause", cause.Said[chosen].Value, cause.Saw()}))
	cause = factNamed(b.animal(owl).Facts, "cause")
	if cause.Differs || len(cause.Said) != 1 || cause.Shown().Text != "Cat" || cause.Shown().Who != registrar.Person {
		t.Errorf("got %+v, want Cat by %s alone", cause, registrar.Person)
	}
}

func factNamed(all []Fact, name string) Fact {
	for _, f := range all {
		if f.Field.Name == name {
			return f
		}
	}
	return Fact{}
}

func TestCatalogueNumbersAreNeverGivenTwice(t *testing.T) {
	b, ctx := newBench(t), context.Background()
	var animals []op.ID
	for n := range 40 {
		_, id := b.find(1, "2025-10-04", makeTag(t, uint(n+1)))
		animals = append(animals, id)
	}
	b.phone(2, on(animals[0], record.Animal).set("catalogue_no", "SB-0107"))
	var mu sync.Mutex
	var wait sync.WaitGroup
	given := map[string]int{}
	for desk := range 8 {
		wait.Go(func() {
			for i := range animals {
				no, err := b.clerk.GiveCatalogue(ctx, registrar, animals[(i*7+desk*5)%len(animals)].String())
				if fault.Is(err, fault.Conflict) {
					continue
				}
				if err != nil {
					t.Error(err)
					continue
				}
				mu.Lock()
				given[no]++
				mu.Unlock()
			}
		})
	}
	wait.Wait()
	if len(given) != 39 || given["SB-0108"] != 1 || given["SB-0146"] != 1 {
		t.Errorf("got %d different numbers, want 39 from SB-0108 to SB-0146: %v", len(given), given)
	}
	for no, times := range given {
		if times != 1 {
			t.Errorf("%s was given %d times", no, times)
		}
	}
}

func TestNextNumber(t *testing.T) {
	for _, tc := range []struct {
		name string
		used []string
		want string
	}{
		{"the first of a new catalogue", nil, "C-000001"},
		{"one more than the highest, in the same width", []string{"SB-0009", "SB-0002"}, "SB-0010"},
		{"wider when it must be", []string{"99"}, "100"},
		{"the series that most animals have", []string{"OLD-900", "SB-1", "SB-2"}, "SB-3"},
		{"a number without digits is not a series", []string{"none"}, "C-000001"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			b := newBench(t)
			for _, no := range tc.used {
				b.phone(1, on(b.id(), record.Animal).set("catalogue_no", no))
			}
			sheet, err := b.book.Drawer(context.Background(), "")
			b.must(err)
			if sheet.Next != tc.want {
				t.Errorf("got %q, want %q", sheet.Next, tc.want)
			}
		})
	}
}

func TestOnePreparationNumberOnTwoAnimalsIsKeptAndShown(t *testing.T) {
	b, ctx := newBench(t), context.Background()
	_, one := b.find(1, "2025-10-04", makeTag(t, 1))
	_, two := b.find(1, "2025-10-05", makeTag(t, 2))
	b.must(b.clerk.GivePreparation(ctx, registrar, one.String(), "TM 412"))
	b.must(b.clerk.GivePreparation(ctx, registrar, two.String(), "TM 412"))
	bench, err := b.book.Bench(ctx)
	b.must(err)
	if len(bench.Conflicts) != 1 || len(bench.Conflicts[0].Conflict) != 2 {
		t.Fatalf("got conflicts %+v, want one over two animals", bench.Conflicts)
	}
	for _, id := range []op.ID{one, two} {
		numbers := b.animal(id).Numbers
		if len(numbers) != 1 || numbers[0].Value != "TM 412" || len(numbers[0].Conflict) != 1 {
			t.Errorf("got %+v, want TM 412 with the other animal beside it", numbers)
		}
	}
	b.must(b.clerk.GivePreparation(ctx, registrar, two.String(), "TM 413"))
	if bench, _ = b.book.Bench(ctx); len(bench.Conflicts) != 0 {
		t.Errorf("a new number did not end the conflict: %+v", bench.Conflicts)
	}
}

func TestAnArrivalFromTheFirstBagToSigningOff(t *testing.T) {
	b, ctx := newBench(t), context.Background()
	tagged := makeTag(t, 204)
	_, loon := b.find(1, "2025-10-04", tagged)
	id, err := b.clerk.BeginArrival(ctx, registrar, Opening{From: "Ana Petrosyan-Reed"})
	b.must(err)
	b.must(b.clerk.AddLines(ctx, registrar, id, tagged+" Common Loon\nan owl, no tag\n"))
	wrong := tagged[:len(tagged)-1] + "?"
	if _, err := b.clerk.AddBag(ctx, registrar, id, Typed{Tag: wrong}); !fault.Is(err, fault.Invalid) || fault.Sentence(err) == "" {
		t.Errorf("a wrong tag: got %v, want a sentence", err)
	}
	got, err := b.clerk.AddBag(ctx, registrar, id, Typed{Tag: " " + tagged + " "})
	b.must(err)
	if got != tagged {
		t.Errorf("got tag %q, want %q", got, tagged)
	}
	_, err = b.clerk.AddBag(ctx, registrar, id, Typed{Written: "gull?", Untagged: true})
	b.must(err)
	sheet, err := b.book.Arrival(ctx, id)
	b.must(err)
	if m, o, l := len(sheet.Tally.Matched), len(sheet.Tally.BagOnly), len(sheet.Tally.LineOnly); m != 1 || o != 1 || l != 1 {
		t.Errorf("got %d matched, %d on the table only, %d on the list only; want 1, 1, 1", m, o, l)
	}
	no, err := b.clerk.Accept(ctx, registrar, id, Acceptance{Animal: loon.String(), Tag: tagged, Freezer: "F2, shelf 3"})
	b.must(err)
	if _, err := b.clerk.Accept(ctx, registrar, id, Acceptance{Animal: loon.String(), Tag: tagged}); !fault.Is(err, fault.Conflict) {
		t.Errorf("accepting twice: got %v, want a conflict", err)
	}
	animal := b.animal(loon)
	if animal.Disposition != "received" || animal.IntakeNo != no || animal.Freezer != "F2, shelf 3" {
		t.Errorf("got %q, %q, %q; want received, %q, F2, shelf 3", animal.Disposition, animal.IntakeNo, animal.Freezer, no)
	}
	if factNamed(animal.Facts, "disposition").Differs {
		t.Error("accepting left the old disposition beside the new one")
	}
	b.must(b.clerk.CloseArrival(ctx, registrar, id, "one owl is missing"))
	if _, err := b.clerk.AddBag(ctx, registrar, id, Typed{Tag: tagged}); !fault.Is(err, fault.Conflict) {
		t.Errorf("a bag for an arrival that is signed off: got %v, want a conflict", err)
	}
}

func TestWithdrawnReportsLeaveListsAndComeBackToNobody(t *testing.T) {
	b, ctx := newBench(t), context.Background()
	report, animal := b.find(1, "2025-10-04", makeTag(t, 1))
	b.phone(1, on(report, record.Report).event("withdrawn", record.Withdrawn{Reason: "entered twice"}))
	list, err := b.book.Finds(ctx, Filter{})
	b.must(err)
	if list.Reports != 0 || list.Animals != 0 {
		t.Errorf("got %d reports and %d animals, want none", list.Reports, list.Animals)
	}
	if sheet := b.animal(animal); !sheet.Withdrawn || len(sheet.Facts) == 0 {
		t.Error("a withdrawn animal must say so and still show everything")
	}
}

func TestFinds(t *testing.T) {
	b, ctx := newBench(t), context.Background()
	tagged := makeTag(t, 7)
	b.find(1, "2025-10-04", tagged)
	b.find(1, "2025-10-09", makeTag(t, 8))
	for _, tc := range []struct {
		name   string
		filter Filter
		want   int
	}{
		{"no filter", Filter{}, 2},
		{"a tag without its hyphens in small letters", Filter{Text: "k7q007"}, 1},
		{"part of a name", Filter{Text: "LOON"}, 2},
		{"another county", Filter{County: "Oceana"}, 0},
		{"the county", Filter{County: "Mason"}, 2},
		{"where the animal is", Filter{State: "private_freezer"}, 2},
		{"where no animal is", Filter{State: "destroyed"}, 0},
		{"an answer that nobody got", Filter{Outcome: "stop"}, 0},
	} {
		t.Run(tc.name, func(t *testing.T) {
			got, err := b.book.Finds(ctx, tc.filter)
			b.must(err)
			if got.Matching != tc.want {
				t.Errorf("got %d, want %d", got.Matching, tc.want)
			}
		})
	}
	got, err := b.book.Finds(ctx, Filter{Limit: 1, From: 1})
	b.must(err)
	if len(got.Rows) != 1 || got.Rows[0].Found.Earliest[:10] != "2025-10-04" {
		t.Errorf("the second row is %+v, want the older find", got.Rows)
	}
}

func TestABookReadInPiecesIsTheBookReadAtOnce(t *testing.T) {
	b, ctx := newBench(t), context.Background()
	for n := range 130 {
		b.find(byte(n%3+1), fmt.Sprintf("2025-%02d-%02d", n%9+1, n%28+1), makeTag(t, uint(n+1)))
		if n%17 == 0 {
			_, err := b.book.Finds(ctx, Filter{})
			b.must(err)
		}
	}
	pieces, err := b.book.Finds(ctx, Filter{Limit: 500})
	b.must(err)
	once, err := Open(b.log, Surroundings{}).Finds(ctx, Filter{Limit: 500})
	b.must(err)
	same := slices.EqualFunc(pieces.Rows, once.Rows, func(x, y Find) bool { return fmt.Sprint(x) == fmt.Sprint(y) })
	if !same || pieces.Animals != 130 || once.Animals != 130 {
		t.Errorf("in pieces %d rows of %d animals, at once %d of %d", len(pieces.Rows), pieces.Animals, len(once.Rows), once.Animals)
	}
}

type brokenLog struct{ Memory }

func (*brokenLog) Touched(context.Context, uint64) ([]op.ID, Place, bool, error) {
	return nil, Place{}, false, errors.New("disk gone")
}

func TestABrokenLogIsOurFault(t *testing.T) {
	_, err := Open(&brokenLog{}, Surroundings{}).Bench(context.Background())
	if err == nil || fault.KindOf(err) != fault.Internal {
		t.Errorf("got %v, want an internal fault", err)
	}
}

func TestTakesSayUnderWhichAuthorityAnAnimalCounts(t *testing.T) {
	b, ctx := newBench(t), context.Background()
	verdict := func(relies []string, blocking ...permits.Finding) permits.Verdict {
		v := permits.Verdict{Outcome: permits.BreachToResolve, Act: permits.Note, Findings: blocking}
		for _, a := range relies {
			v.Relies = append(v.Relies, permits.Reliance{Authority: a})
		}
		v.Deciding = permits.Finding{Layer: permits.Scope, Effect: permits.Noted}
		return v
	}
	full := permits.Finding{Layer: permits.QuotaLayer, Effect: permits.Breaches, Authority: "STATE"}
	unlisted := permits.Finding{Layer: permits.Person, Effect: permits.Breaches, Authority: "STATE"}
	for i, tc := range []struct {
		name           string
		verdict        permits.Verdict
		under, covered bool
	}{
		{"relied on", verdict([]string{"STATE"}), true, true},
		{"only a full number stands in the way", verdict([]string{"FEDERAL"}, full), true, true},
		{"a full number and a person who is not listed", verdict(nil, full, unlisted), true, false},
		{"a person who is not listed", verdict(nil, unlisted), true, false},
		{"another authority", verdict([]string{"FEDERAL"}), false, false},
	} {
		report, animal := b.find(1, "2025-10-04", makeTag(t, uint(i+1)))
		b.phone(1, on(report, record.Report).event("verdicts", tc.verdict))
		all, _, err := b.book.Takes(ctx, "")
		b.must(err)
		at := slices.IndexFunc(all, func(x Take) bool { return x.ID == animal.String() })
		if at < 0 {
			t.Fatalf("%s: the animal is not among the takes", tc.name)
		}
		if got := all[at]; got.Under("STATE") != tc.under || got.Covered("STATE") != tc.covered || !got.Taken() {
			t.Errorf("%s: got under %v, covered %v; want %v, %v", tc.name, got.Under("STATE"), got.Covered("STATE"), tc.under, tc.covered)
		}
	}
	under, place, err := b.book.Takes(ctx, "FEDERAL")
	b.must(err)
	if len(under) != 2 || place.LSN != 10 || place.AtMS == 0 {
		t.Errorf("got %d animals under FEDERAL as of %+v, want 2 as of entry 10", len(under), place)
	}
}

func TestALineOfAListIsReadAndKeptAsWritten(t *testing.T) {
	tagged := makeTag(t, 204)
	bare := strings.ReplaceAll(tagged, "-", "")
	for _, tc := range []struct{ written, tag, taxon string }{
		{tagged + " Common Loon", tagged, "Common Loon"},
		{tagged + ", Common Loon, 18 Oct 2025", tagged, "Common Loon"},
		{strings.ToLower(bare) + "\tLoon\tbeach", tagged, "Loon"},
		{strings.ReplaceAll(tagged, "-", " ") + " Loon 12 Oct", tagged, "Loon"},
		{tagged, tagged, ""},
		{"a grebe, tag lost in the surf", "", ""},
		{"3 loons", "", ""},
		{tagged[:len(tagged)-1] + "?" + " Loon", "", ""},
	} {
		got := readLine(tc.written)
		if got.Tag != tc.tag || got.Taxon != tc.taxon || got.Written != tc.written {
			t.Errorf("%q: got tag %q, kind %q, written %q; want %q, %q", tc.written, got.Tag, got.Taxon, got.Written, tc.tag, tc.taxon)
		}
	}
}

func TestSettlingKeepsFormsAndCatalogueNumbers(t *testing.T) {
	b, ctx := newBench(t), context.Background()
	_, one := b.find(1, "2025-10-04", makeTag(t, 1))
	_, two := b.find(1, "2025-10-05", makeTag(t, 2))
	no, err := b.clerk.GiveCatalogue(ctx, registrar, one.String())
	b.must(err)
	taken := Settlement{Field: "catalogue_no", Value: []byte(`"` + no + `"`)}
	if err := b.clerk.Settle(ctx, registrar, two.String(), taken); !fault.Is(err, fault.Conflict) {
		t.Errorf("writing another animal's catalogue number: got %v, want a conflict", err)
	}
	if err := b.clerk.Settle(ctx, registrar, two.String(), Settlement{Field: "cause", Value: []byte(`"window"`)}); !fault.Is(err, fault.Invalid) {
		t.Errorf("a cause that is not an object: got %v, want invalid", err)
	}
	if err := b.clerk.Settle(ctx, registrar, two.String(), Settlement{Field: "tags", Value: []byte(`"X"`)}); !fault.Is(err, fault.Invalid) {
		t.Errorf("settling a field that only grows: got %v, want invalid", err)
	}
	b.must(b.clerk.Settle(ctx, registrar, two.String(), Settlement{Field: "sex", Value: []byte(`"female"`)}))
	if got := factNamed(b.animal(two).Facts, "sex").Shown().Text; got != "female" {
		t.Errorf("got sex %q, want female", got)
	}
}
