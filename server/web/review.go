package web

import (
	"net/http"
	"net/url"
	"sort"

	"github.com/labstack/echo/v4"

	"wayfall/sync/record"
)

// advised says for one code what happened, what was kept and what to do.
type advised struct {
	Label, Shape, What, Kept, Do string
	Ways                         []record.Word
}

var seen = record.Word{Code: "seen", Label: "Seen, nothing to do"}

var settled = record.Word{Code: "settled", Label: "Settled"}

// reviews holds the codes that the server gives. A code that is not here is
// shown with its own name and general words, never left out.
var reviews = map[string]advised{
	"over_quota": {"over a number", "stop", "More were taken than the permit allows",
		"The report and the animal, marked as over.", "Tell the issuing office, and note what it answered.",
		[]record.Word{{Code: "told", Label: "The office was told"}, settled}},
	"not_covered": {"not covered", "stop", "Taken without cover",
		"The report and the animal, marked as not covered.", "Find the paper that covers it, or disclose it to the issuing office.",
		[]record.Word{{Code: "told", Label: "The office was told"}, settled}},
	"stop_species": {"must not be taken", "stop", "An animal that must be left where it lies",
		"The report as made.", "Call the office that the verdict names, and note the reference.",
		[]record.Word{{Code: "told", Label: "The office was told"}, settled}},
	"unknown_authority": {"unknown paper", "ask", "The report names a paper that is not known here",
		"The report with the name as written.", "Enter the paper under Permits, or correct the report.", []record.Word{settled}},
	"differs": {"people differ", "ask", "Two people say different things",
		"Every value, with who said it and when.", "Open the record and take one. The other stays in the log.", []record.Word{settled, seen}},
	"pair_proposed": {"perhaps one animal", "ask", "Two reports may be of one carcass",
		"Both reports, each counted, until you decide.", "Compare them. Join them if it is one animal.",
		[]record.Word{{Code: "join", Label: "One animal: join"}, {Code: "apart", Label: "Two animals"}}},
	"place_doubt": {"odd place", "ask", "The place cannot be quite right",
		"The place as written, and the point as captured.", "Ask the person, then correct the place.", []record.Word{settled, seen}},
	"date_doubt": {"odd date", "ask", "The dates do not fit each other",
		"The dates as written.", "Ask the person; day and month may be swapped.", []record.Word{settled, seen}},
	"photo_bad": {"photo unreadable", "note", "A photo could not be read as a picture",
		"The link and the report.", "Ask for the photo again while it is still on the phone.", []record.Word{settled, seen}},
	"unknown_field": {"from a newer phone", "note", "A phone sent something this server does not know",
		"All of it, as sent.", "Update the server; it will then be shown.", []record.Word{seen}},
}

var general = advised{"other", "note", "Something needs a person", "Everything that was sent.", "Open the record and decide.", []record.Word{settled, seen}}

func adviceOn(code string) advised {
	if a, ok := reviews[code]; ok {
		return a
	}
	a := general
	a.Label = wordOf(code)
	return a
}

type reviewCode struct {
	Code, Label string
	Count       int
}

type reviewItem struct {
	advised
	Item
	Path, Subject string
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
		items, counts, err := d.Queue.Open(c.Request().Context(), b.Code, reviewLength)
		if err != nil {
			return err
		}
		for _, it := range items {
			b.Items = append(b.Items, reviewItem{advised: adviceOn(it.Code), Item: it, Path: pathOf(it.Kind, it.Record), Subject: it.Name})
		}
		b.Codes, b.More = countCodes(counts, b.Code, len(items))
	}
	return d.show(c, http.StatusOK, "review", page{Title: "Needs a look", Here: "review", Body: b})
}

func countCodes(counts map[string]int, code string, shown int) (codes []reviewCode, more int) {
	all := 0
	for k, n := range counts {
		codes = append(codes, reviewCode{k, adviceOn(k).Label, n})
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
