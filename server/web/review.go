package web

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"wayfall/server/intake"
)

// told says for one code what happened and what was kept; what to do and the
// ways to settle it come with the item.
type told struct{ Label, Shape, What, Kept string }

// reviews holds the codes that the server gives. A code that is not here is
// shown with its own name and general words, never left out.
var reviews = map[intake.Code]told{
	intake.OverQuota:        {"over a number", "stop", "More were taken than the permit allows", "The report and the animal, marked as over."},
	intake.NotCovered:       {"not covered", "stop", "Taken without cover", "The report and the animal, marked as not covered."},
	intake.StopSpecies:      {"must not be taken", "stop", "An animal that must be left where it lies", "The report as made."},
	intake.UnknownAuthority: {"unknown paper", "ask", "The report names a paper that is not known here", "The report, with the name as written."},
	intake.Differs:          {"people differ", "ask", "Two people say different things", "Every value, with who said it and when."},
	intake.PairProposed:     {"perhaps one animal", "ask", "Two reports may be of one carcass", "Both reports. Both count until you decide."},
	intake.PlaceDoubt:       {"odd place", "ask", "The place cannot be quite right", "The place as written, and the point as captured."},
	intake.DateDoubt:        {"odd date", "ask", "A date cannot be quite right", "The dates as written."},
	intake.CallFirst:        {"call first", "stop", "It may be evidence, or a danger: call before it is moved", "The report and the answer."},
	intake.NeedsPerson:      {"undecided", "ask", "The rules cannot decide from what is known", "The report and the answer."},
	intake.BadValue:         {"odd value", "ask", "A value does not have the form of its field", "The value as sent."},
	intake.UnknownWord:      {"unknown word", "note", "A word that is not in the list", "The word as sent."},
	intake.PhotoBad:         {"photo unreadable", "note", "A photo could not be read as a picture", "The link and the report."},
	intake.UnknownField:     {"from another release", "note", "A phone sent something that this server does not know", "All of it, as sent."},
	intake.WrongActor:       {"other hands", "ask", "Saved by one person, handed in by another", "The save, with both names."},
	intake.LostDevice:       {"lost device", "stop", "It came from a device that was declared lost", "Everything it sent, apart from the lists until you decide."},
	intake.NotYours:         {"other role", "ask", "Somebody wrote what another role decides", "What was written, with who wrote it."},
}

func adviceOn(code intake.Code) told {
	if a, ok := reviews[code]; ok {
		return a
	}
	return told{wordOf(string(code)), "note", "Something needs a person", "Everything that was sent."}
}

type reviewCode struct {
	Code, Label string
	Count       int
	rank        int
}

type reviewItem struct {
	intake.Item
	Path, Subject, OtherPath string
	On                       []outletShown // the lawful ways on
}

// reviewGroup is the items of one kind on this page; what was kept and what to
// do is said once for all of them.
type reviewGroup struct {
	told
	Code, Todo string
	Count      int
	Items      []reviewItem
}

type reviewBody struct {
	Groups         []reviewGroup
	Codes          []reviewCode
	Code, Back     string
	All, Of        int
	First, Last    int
	Next           int
	Earlier, Later string
	MaySettle      bool
}

// reviewLength is how many items a page shows, and reviewReach how many are
// read to put the gravest first.
const reviewLength, reviewReach = 20, 10000

func (d *Desk) review(c echo.Context) error {
	b := reviewBody{Code: c.QueryParam("code"), MaySettle: seated(c).May(settlers...)}
	if d.Queue != nil {
		items, counts, err := d.Queue.Review(c.Request().Context(), b.Code, reviewReach)
		if err != nil {
			return err
		}
		from, _ := strconv.Atoi(c.QueryParam("from"))
		b.Codes, b.All = countCodes(counts)
		b.fill(items, from)
	}
	return d.show(c, http.StatusOK, "review", page{Title: "Needs a look", Here: "review", Body: b})
}

// fill puts one page of the items into their groups.
func (b *reviewBody) fill(items []intake.Item, from int) {
	rank := map[intake.Code]int{}
	for i, k := range b.Codes {
		rank[intake.Code(k.Code)] = i
	}
	slices.SortStableFunc(items, func(x, y intake.Item) int { return cmp.Compare(rank[x.Code], rank[y.Code]) })
	b.Of = len(items)
	if from < 0 || from >= b.Of { // the last of a page was settled
		from = max(0, (b.Of-1)/reviewLength*reviewLength)
	}
	shown := items[from:min(b.Of, from+reviewLength)]
	b.First, b.Last = from+1, from+len(shown)
	b.Back = reviewPath(b.Code, from)
	if from > 0 {
		b.Earlier = reviewPath(b.Code, max(0, from-reviewLength))
	}
	if b.Next = min(reviewLength, b.Of-b.Last); b.Next > 0 {
		b.Later = reviewPath(b.Code, b.Last)
	}
	for _, it := range shown {
		if n := len(b.Groups); n == 0 || b.Groups[n-1].Code != string(it.Code) {
			g := reviewGroup{told: adviceOn(it.Code), Code: string(it.Code), Todo: it.Todo}
			if at := rank[it.Code]; at < len(b.Codes) {
				g.Count = b.Codes[at].Count
			}
			b.Groups = append(b.Groups, g)
		}
		g := &b.Groups[len(b.Groups)-1]
		g.Items = append(g.Items, reviewItem{Item: it, Path: pathOf(it.Kind, it.Record), Subject: it.Name, OtherPath: pathOf("animal", it.Other), On: waysOn(it)})
	}
}

func reviewPath(code string, from int) string {
	q := url.Values{}
	if code != "" {
		q.Set("code", code)
	}
	if from > 0 {
		q.Set("from", strconv.Itoa(from))
	}
	if len(q) == 0 {
		return "/review"
	}
	return "/review?" + q.Encode()
}

var gravity = map[string]int{"stop": 0, "ask": 1, "note": 2}

// countCodes is the kinds that are open, the gravest first, then the most.
func countCodes(counts map[string]int) (codes []reviewCode, all int) {
	for k, n := range counts {
		a := adviceOn(intake.Code(k))
		codes = append(codes, reviewCode{k, a.Label, n, gravity[a.Shape]})
		all += n
	}
	slices.SortFunc(codes, func(x, y reviewCode) int {
		return cmp.Or(cmp.Compare(x.rank, y.rank), cmp.Compare(y.Count, x.Count), cmp.Compare(x.Code, y.Code))
	})
	return codes, all
}

func pathOf(kind, id string) string {
	folder := map[string]string{"report": "/finds/", "animal": "/animals/", "arrival": "/arrivals/", "authority": "/permits/"}[kind]
	if folder == "" || id == "" {
		return ""
	}
	return folder + url.PathEscape(id)
}

func (d *Desk) settleReview(c echo.Context) error {
	if d.Queue == nil {
		return noOffice
	}
	if err := d.Queue.Settle(c.Request().Context(), d.hand(c), c.Param("id"), c.FormValue("how"), c.FormValue("note")); err != nil {
		return err
	}
	back := c.FormValue("back")
	if back != "/review" && !strings.HasPrefix(back, "/review?") {
		back = "/review"
	}
	return goTo(c, local(back), "take", "Settled, with your name and note.")
}
