package web

import (
	"net/http"
	"net/url"
	"sort"

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
}

type reviewItem struct {
	told
	intake.Item
	Path, Subject, OtherPath string
}

type reviewBody struct {
	Items     []reviewItem
	Codes     []reviewCode
	Code      string
	More      int
	MaySettle bool
}

const reviewLength = 100

func (d *Desk) review(c echo.Context) error {
	b := reviewBody{Code: c.QueryParam("code"), MaySettle: seated(c).May(settlers...)}
	if d.Queue != nil {
		items, counts, err := d.Queue.Review(c.Request().Context(), b.Code, reviewLength)
		if err != nil {
			return err
		}
		for _, it := range items {
			b.Items = append(b.Items, reviewItem{told: adviceOn(it.Code), Item: it, Path: pathOf(it.Kind, it.Record), Subject: it.Name, OtherPath: pathOf("animal", it.Other)})
		}
		b.Codes, b.More = countCodes(counts, b.Code, len(items))
	}
	return d.show(c, http.StatusOK, "review", page{Title: "Needs a look", Here: "review", Body: b})
}

func countCodes(counts map[string]int, code string, shown int) (codes []reviewCode, more int) {
	all := 0
	for k, n := range counts {
		codes = append(codes, reviewCode{k, adviceOn(intake.Code(k)).Label, n})
		all += n
	}
	sort.Slice(codes, func(i, j int) bool {
		if codes[i].Count != codes[j].Count {
			return codes[i].Count > codes[j].Count
		}
		return codes[i].Code < codes[j].Code
	})
	if len(codes) > 0 {
		codes = append([]reviewCode{{"", "everything", all}}, codes...)
	}
	if code != "" {
		all = counts[code]
	}
	return codes, max(0, all-shown)
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
	return goTo(c, "/review", "take", "Settled, with your name and note.")
}
