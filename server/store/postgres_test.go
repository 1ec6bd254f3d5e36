package store

import (
	"context"
	"fmt"
	"net/url"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"wayfall/server/fault"
	"wayfall/server/store/postgrestest"
	"wayfall/sync/op"
	"wayfall/sync/oplog"
	"wayfall/sync/oplog/oplogtest"
)

// inPostgres says where the tests of the suite make their stores.
var inPostgres bool

// newPath returns where a new store of the test is to be.
func newPath(t testing.TB, name string) string {
	t.Helper()
	if inPostgres {
		return postgrestest.Database(t)
	}
	return filepath.Join(t.TempDir(), name)
}

// openPath opens a store.
func openPath(path string, opts Options) (*Store, error) {
	opts.Photos = photosOf(path)
	return Open(path, opts)
}

// photosOf returns the folder of a store's photos: of one in a database, a
// folder named after it.
func photosOf(path string) string {
	if !isURL(path) {
		return ""
	}
	u, err := url.Parse(path)
	if err != nil {
		return ""
	}
	return filepath.Join(u.Query().Get("host"), "photos"+filepath.Base(u.Path)) // goes with the server
}

// suite is every test of the store that does not look into SQLite's files.
var suite = map[string]func(*testing.T){
	"the log's promises":        TestTheStoreKeepsTheLogsPromises,
	"what was written is there": TestWhatWasWrittenIsThereAfterReopening,
	"a closed store refuses":    TestAClosedStoreRefuses,
	"closing finishes":          TestClosingFinishesWhatWasBegun,
	"records equal the log":     TestRecordsEqualTheFoldedLog,
	"without effect":            TestOperationsWithoutEffectAreKeptButNotFolded,
	"a judge sees":              TestAJudgeSeesTheRecordBeforeTheOperation,
	"a judge that panics":       TestAJudgeThatPanicsStopsNobody,
	"the server writes":         TestTheServerWritesAsADeviceOfItsOwn,
	"numbers are unique":        TestNumbersDecidedAtTheEndOfTheLogAreUnique,
	"a failed write":            TestAFailedWriteLeavesNothingAndHurtsNobodyBeside,
	"pull":                      TestPullGivesEachOperationOfItsScopeOnce,
	"devices":                   TestDevices,
	"drawers":                   TestDrawers,
	"photos":                    TestBlobs,
	"many uploads":              TestManyUploadsOfTheSameBytesEndWithTheRightBytes,
	"times of receipt":          TestTimesOfReceiptNeverFall,
	"a write given up":          TestAWriteGivenUpBeforeItBeganWritesNothing,
	"too many writes":           TestTooManyWritesAreToldToComeBack,
	"wait":                      TestWaitReturnsAtTheNextCommit,
	"a follower is told":        TestAFollowerIsToldOfEveryOperationOnce,
	"a follower that fails":     TestAFollowerThatFailsGoesOnWhereItStopped,
	"follow goes on":            TestFollowGoesOnAtEveryCommit,
	"a whole store":             TestAWholeStoreIsFoundWhole,
	"a head that was kept":      TestARewrittenHistoryPartsFromAHeadThatSomebodyKept,
	"a character that PostgreSQL's text lacks": TestAnOperationMayHoldAnyCharacter,
}

func TestTheWholeSuiteHoldsInPostgreSQL(t *testing.T) {
	inPostgres = true
	defer func() { inPostgres = false }()
	for name, test := range suite {
		t.Run(name, test)
	}
}

func TestAnOperationMayHoldAnyCharacter(t *testing.T) {
	s := openNew(t)
	p := oplogtest.NewPhone(1)
	wire := p.Write(t, op.Group{ID: op.ID{5}, Kind: "odd\x00kind", Acts: []op.Act{op.Set("remark", op.Text("a\x00b € 🦉"))}})
	push(t, s, p.Batch(wire))
	got, err := s.Read(ctx, 0, 1)
	if err != nil || len(got) != 1 || string(got[0].Wire) != string(wire) {
		t.Errorf("got %d entries (%v), want the operation as it was written", len(got), err)
	}
	verify(t, s)
}

// shared is one of several programs on one database.
func shared(t *testing.T, url string, seed byte) *Store {
	t.Helper()
	opts := options()
	opts.Shared, opts.Random, opts.Now = true, newChance(seed), time.Now
	return openAt(t, url, opts)
}

func TestALateCommitIsNeverOvertaken(t *testing.T) {
	late := overtaken(t, true)
	if late != nil {
		t.Error(late)
	}
	// The same without the one commit point: the check must see it.
	if late = overtaken(t, false); late == nil {
		t.Error("the commit point was taken out and nothing was noticed")
	} else {
		t.Log("SHOW without the commit point:", late)
	}
}

// overtaken has one program begin to write and commit late, while another
// writes, and reports if a reader could miss anything.
func overtaken(t *testing.T, point bool) error {
	url := postgrestest.Database(t)
	kept := postgresSpeech
	if !point {
		postgresSpeech.beginWrite = []string{"BEGIN"}
	}
	a, b := shared(t, url, 11), shared(t, url, 12)
	postgresSpeech = kept
	writing, commit, done := make(chan struct{}), make(chan struct{}), make(chan error, 1)
	go func() {
		done <- a.Within(ctx, func(tx *Tx) error {
			if _, err := tx.Write(Author{"a", "harbour"}, remark(op.ID{1}, "begun first")); err != nil {
				return err
			}
			close(writing)
			<-commit
			return nil
		})
	}()
	<-writing
	second := make(chan error, 1)
	go func() {
		_, err := b.Push(ctx, oplogtest.NewPhone(2).Saves(t, 3))
		second <- err
	}()
	var seen []oplog.Entry // what a reader has seen before the late commit
	time.Sleep(200 * time.Millisecond)
	seen, err := b.Read(ctx, 0, 100)
	if err != nil {
		return err
	}
	close(commit)
	if err := <-done; err != nil {
		return fmt.Errorf("the late one: %w", err)
	}
	if err := <-second; err != nil {
		return fmt.Errorf("the other one: %w", err)
	}
	after := uint64(0)
	if n := len(seen); n > 0 {
		after = seen[n-1].LSN
	}
	rest, err := a.Read(ctx, after, 100)
	if err != nil {
		return err
	}
	if got := len(seen) + len(rest); got != 4 {
		return fmt.Errorf("a reader that went on from place %d got %d operations of 4", after, got)
	}
	return nil
}

func TestThreeProgramsOnOneDatabaseKeepOneOrder(t *testing.T) {
	const programs, phones, batches, saves = 3, 4, 12, 5
	url := postgrestest.Database(t)
	var all []*Store
	for n := range byte(programs) {
		all = append(all, shared(t, url, 20+n))
	}
	var wg sync.WaitGroup
	for n := range byte(phones) {
		wg.Go(func() {
			p := oplogtest.NewPhone(n + 1)
			for i := range batches {
				s := all[(int(n)+i)%programs]
				b := p.Saves(t, saves)
				for range 2 { // every push is said twice
					if _, err := s.Push(ctx, b); err != nil {
						t.Error(err)
					}
				}
				if _, err := s.Write(ctx, Author{"a", "harbour"}, remark(op.ID{9, n}, fmt.Sprint(i))); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	const want = phones * batches * (saves + 1)
	for n, s := range all {
		got, err := s.Read(ctx, 0, want+10)
		if err != nil || len(got) != want {
			t.Fatalf("program %d: got %d operations (%v), want %d", n, len(got), err, want)
		}
		for i, e := range got {
			if e.LSN != uint64(i)+1 {
				t.Fatalf("program %d: place %d follows %d", n, e.LSN, i)
			}
		}
	}
	if _, err := all[0].Seal(ctx); err != nil {
		t.Fatal(err)
	}
	verify(t, all[1])
	deadline, cancel := context.WithTimeout(ctx, 10*time.Second)
	defer cancel()
	for n, s := range all {
		if err := s.Wait(deadline, want-1); err != nil {
			t.Errorf("program %d never heard of the last commit: %v", n, err)
		}
	}
	t.Logf("SHOW %d programs, %d operations, in one order, none twice", programs, want)
}

func TestOneProgramServesAStoreInADatabase(t *testing.T) {
	inPostgres = true
	defer func() { inPostgres = false }()
	url := newPath(t, "")
	first, err := openPath(url, options())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := openPath(url, options()); !fault.Is(err, fault.Stale) || !strings.Contains(err.Error(), "another program") {
		t.Errorf("a second program: got %v", err)
	}
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	openAt(t, url, options())
}

func TestALostConnectionIsMadeAgain(t *testing.T) {
	url := postgrestest.Database(t)
	s := shared(t, url, 31)
	push(t, s, oplogtest.NewPhone(1).Saves(t, 3))
	c, err := connect(url, false)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = c.close() }()
	if _, err := c.exec("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"); err != nil {
		t.Fatal(err)
	}
	b := oplogtest.NewPhone(2).Saves(t, 3)
	for range 10 { // the first may still find the dead connection; it is told so
		if _, err = s.Push(ctx, b); err == nil {
			break
		}
	}
	if err != nil {
		t.Fatal(err)
	}
	for range readerCount + 2 {
		if _, e := s.Read(ctx, 0, 10); e != nil {
			err = e
		} else {
			err = nil
		}
	}
	if err != nil {
		t.Error(err)
	}
	verify(t, s)
}

func TestAnOutsideDatabaseThatIsNotThereIsSaidPlainly(t *testing.T) {
	_, err := Open("postgres:///none?host=/nowhere&user=u&password=geheim", Options{Now: time.Now, Random: newChance(1), Photos: t.TempDir()})
	if err == nil || strings.Contains(err.Error(), "geheim") {
		t.Errorf("got %v, want an error without the password", err)
	}
}

func TestAStoreMovesToPostgreSQLAndBackAgain(t *testing.T) {
	path, there, back := sealedStore(t, 12), postgrestest.Database(t), filepath.Join(t.TempDir(), "back.db")
	if err := CopyStore(ctx, path, there); err != nil {
		t.Fatal(err)
	}
	photos := path + ".blobs"
	want, err := VerifyFile(ctx, path, Look{})
	if err != nil {
		t.Fatal(err)
	}
	if a, err := VerifyFile(ctx, there, Look{Photos: photos}); err != nil || a.Operations != want.Operations || a.Newest != want.Newest {
		t.Errorf("in PostgreSQL: got %+v (%v), want %+v", a, err, want)
	}
	opts := options()
	opts.Photos, opts.Random = photos, newChance(8)
	s := openAt(t, there, opts)
	push(t, s, oplogtest.NewPhone(7).Saves(t, 30))
	if _, err := s.Write(ctx, Author{"a", "harbour"}, remark(op.ID{9}, "desk")); err != nil {
		t.Error(err)
	}
	if a, err := BackupFile(ctx, there, back, Look{Photos: photos}); err != nil || a.Operations != want.Operations+31 {
		t.Errorf("back in a file: got %+v (%v)", a, err)
	}
	if err := CopyStore(ctx, path, there); !fault.Is(err, fault.Stale) {
		t.Errorf("over a store: got %v, want it refused", err)
	}
}
