package server

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"slices"
	"strings"

	"wayfall/permits/escrow"
	"wayfall/server/fault"
	"wayfall/server/intake"
	"wayfall/server/store"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// watch is the list of what needs a look with what is odd about shares.
type watch struct {
	*intake.Intake
	lender *lender
}

// The codes of what is odd about shares, beside the kinds of alarm of
// permits/escrow.
const (
	amendedBelow intake.Code = "amended_below"
	shareNotBack intake.Code = "share_not_back"
	storePutBack intake.Code = "store_put_back"
)

// vouch is the way to say that all that is out is known.
const vouch = "vouch"

// onward says what to do about each alarm.
var onward = map[intake.Code]string{
	intake.Code(escrow.SpentTwice):    "Find both animals and the phones they came from. Declare a copied phone lost. If both were taken, ask for an amendment or disclose the second.",
	intake.Code(escrow.NoSuchSerial):  "Ask whose phone it is and since when. Until the share is known, the animal counts as entered without one.",
	intake.Code(escrow.NotItsOwn):     "Find out which phone made this save. The animal counts as entered without a share.",
	intake.Code(escrow.SpentReturned): "The phone's memory may be older than what it sent. Have it signed in anew; the animal counts as entered without a share.",
	intake.Code(escrow.SpentGone):     "Find out who has the phone now. If it was found, sign it in anew; what it held stays written off until the window ends.",
	intake.Code(escrow.NotItsBlock):   "Ask who runs that server. Animals counted on it count as entered without a share.",
	intake.Code(escrow.LentTooMuch):   "Ask the phones to give back what they do not need, or ask for an amendment.",
	amendedBelow:                      "Ask the phones to give back what they do not need. What was taken while the older version held stays covered by it; note what was decided.",
	shareNotBack:                      "Have the phone hand in what it still holds. Finds it made in that window count there, however late they come. If it is gone, declare it lost.",
	storePutBack:                      "Have every such phone hand in its finds, or declare it lost; enter again what was entered at the desk after the copy. Then say so, with the reason.",
}

// Review implements api.Desk and web.Queue.
func (w watch) Review(ctx context.Context, code string, limit int) ([]intake.Item, map[string]int, error) {
	out, counts, err := w.Intake.Review(ctx, code, limit)
	if err != nil {
		return nil, nil, err
	}
	all, err := w.lender.oddities(ctx)
	for _, it := range all {
		counts[string(it.Code)]++
		if (code == "" || string(it.Code) == code) && len(out) < limit {
			out = append(out, it)
		}
	}
	return out, counts, err
}

// Settle implements api.Desk. What was odd stays readable; that it was settled
// is a remark on the paper.
func (w watch) Settle(ctx context.Context, by intake.Hand, id, how, note string) error {
	all, err := w.lender.oddities(ctx)
	if err != nil {
		return err
	}
	at := slices.IndexFunc(all, func(it intake.Item) bool { return it.ID == id })
	if at < 0 {
		return w.Intake.Settle(ctx, by, id, how, note)
	}
	it := all[at]
	way := slices.IndexFunc(it.Ways, func(x intake.Way) bool { return x.How == how })
	if way < 0 {
		return fault.New(fault.Invalid, "%q is not one of the ways to settle this", how).At("/how", "choose one of the ways of the item")
	}
	if note = strings.TrimSpace(note); note == "" && how == vouch {
		return fault.New(fault.Invalid, "say why it is certain that nothing else is out").At("/note", "a reason")
	}
	text := strings.TrimSpace(fmt.Sprintf("Looked at: %s Decided: %s. %s", it.Why, it.Ways[way].Label, note))
	g, err := groupOf(it.Name, "remarks", record.Remark{Text: text, Settles: it.ID, How: how})
	if err != nil {
		return err
	}
	_, err = w.lender.s.store.Write(context.WithoutCancel(ctx), store.Author{Actor: by.Person, Scope: w.lender.s.cfg.Institution}, g)
	return err
}

func oddID(parts ...string) string {
	sum := sha256.Sum256([]byte("share\x00" + strings.Join(parts, "\x00")))
	return base64.RawURLEncoding.EncodeToString(sum[:12])
}

func (l *lender) odd(n *escrow.Number, code intake.Code, why string, parts ...string) intake.Item {
	id := oddID(append([]string{string(code), n.Authority, n.Quota, n.Taxon, n.From.String()}, parts...)...)
	return intake.Item{ID: id, Code: code, Why: why, Todo: onward[code], Kind: string(record.Authority),
		Record: intake.AuthorityID(n.Authority).String(), Name: n.Authority, LSN: l.s.store.Last(),
		Ways: []intake.Way{{How: intake.Seen, Label: "Looked at; note what was decided"}}}
}

// oddities lists what is odd about shares and was not settled.
func (l *lender) oddities(ctx context.Context) ([]intake.Item, error) {
	lines, _, err := l.look(ctx)
	if err != nil {
		return nil, err
	}
	_, lost, err := l.devices(ctx)
	if err != nil {
		return nil, err
	}
	var out []intake.Item
	for i := range lines {
		out = append(out, l.oddOf(&lines[i])...)
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	out = append(out, l.oddPast(lost)...)
	if it, stopped := l.stopped(lines); stopped {
		out = append(out, it)
	}
	return slices.DeleteFunc(out, func(it intake.Item) bool { return l.settled[it.ID] != "" }), nil
}

func (l *lender) oddOf(n *line) []intake.Item {
	out := l.alarms(&n.Number, &n.ledger)
	if s := n.ledger.Sums(); s.Spent+s.Lent+s.Burned > s.Limit {
		why := fmt.Sprintf("The number %s of %s allows %d now, but %d are used on shares and %d are still out with phones or lost with them.", n.Quota, n.Authority, s.Limit, s.Spent, s.Lent+s.Burned)
		out = append(out, l.odd(&n.Number, amendedBelow, why, fmt.Sprint(s.Limit)))
	}
	return out
}

func (l *lender) alarms(n *escrow.Number, ledger *escrow.Ledger) (out []intake.Item) {
	for _, a := range ledger.Alarms() {
		it := l.odd(n, intake.Code(a.Kind), a.Sentence(), a.Op, a.Grant, fmt.Sprint(a.Serial))
		out = append(out, it)
	}
	return out
}

// oddPast lists what is odd about windows that ended: shares that nobody gave
// back, and alarms of what came late. It holds mu.
func (l *lender) oddPast(lost []string) (out []intake.Item) {
	today := l.today()
	var seen []escrow.Number
	for _, id := range sortedKeys(l.wins) {
		n := l.wins[id]
		if n.To >= today || slices.Contains(seen, n) {
			continue
		}
		seen = append(seen, n)
		ledger := l.fold(n, 0, 0, lost)
		for _, it := range l.alarms(&n, &ledger) {
			if it.Code != intake.Code(escrow.LentTooMuch) { // what the number was then is not known here
				out = append(out, it)
			}
		}
		for _, s := range ledger.Shares() {
			if s.Left() > 0 && ledger.Gone(s.Device) == "" {
				why := fmt.Sprintf("The window of the number %s of %s ended on %s, and a phone still holds %d units of it.", n.Quota, n.Authority, n.To, s.Left())
				out = append(out, l.odd(&n, shareNotBack, why, s.ID))
			}
		}
	}
	return out
}

func sortedKeys[V any](m map[string]V) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.SortFunc(out, cmp.Compare[string])
	return out
}

// stopped tells whether nothing is lent since the store was put back from a
// copy, and the item with which a person lets it go on. It holds mu.
func (l *lender) stopped(lines []line) (intake.Item, bool) {
	if l.life == "" || len(lines) == 0 || l.settled[oddID(string(storePutBack), l.life)] == vouch {
		return intake.Item{}, false
	}
	waits, _ := lines[0].ledger.Waits()
	why := "The museum's records were put back from a copy. What was lent after the copy is not known, so nothing is lent."
	if len(waits) > 0 {
		why += fmt.Sprintf(" %d phones that may hold shares have not been written off.", len(waits))
	}
	it := l.odd(&lines[0].Number, storePutBack, why)
	it.ID = oddID(string(storePutBack), l.life)
	it.Ways = []intake.Way{{How: vouch, Label: "All that is out is known, and what the desk entered is entered again: lend again"}}
	return it, true
}

// lifeShelf keeps the devices under which this store wrote in its lives.
const lifeShelf = "lives"

// wake finds out whether the store was put back from a copy: then it writes
// under another device than it did when it last started. It knows of devices
// that asked for shares before the copy.
func (l *lender) wake(ctx context.Context) error {
	me := l.s.store.Identity().Device.String()
	lives, err := shelves{l.s.store}.List(ctx, lifeShelf)
	if err != nil {
		return err
	}
	how := lives[me]
	if how == nil {
		if how = []byte("first"); len(lives) > 0 {
			how = []byte("put back")
		}
		if err := (shelves{l.s.store}).Change(ctx, lifeShelf, me, func([]byte) ([]byte, error) { return how, nil }); err != nil {
			return err
		}
	}
	if string(how) == "put back" {
		l.life = me
	}
	return nil
}

// hear of a settlement, which may be a person's word that all is known.
func (l *lender) decided(a op.Act) {
	var r record.Remark
	if a.Value.Into(&r) != nil || r.Settles == "" {
		return
	}
	if l.settled == nil {
		l.settled = map[string]string{}
	}
	l.settled[r.Settles] = r.How
}

// putBack are the events that stop lending after the store was put back.
func (l *lender) putBack(asking map[string]string) (events []escrow.Event) {
	if l.life == "" || l.settled[oddID(string(storePutBack), l.life)] == vouch {
		return nil
	}
	for _, dev := range sortedKeys(asking) {
		events = append(events, escrow.Event{Kind: escrow.Known, Device: dev})
	}
	return append(events, escrow.Event{Kind: escrow.PutBack, Count: 1})
}
