package web

import (
	"fmt"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/net/html"
	"pgregory.net/rapid"

	"wayfall/server/reports"
)

// counted reads a picture back: how many of each kind it shows, and how far it
// reaches across.
func counted(t interface{ Fatalf(string, ...any) }, svg string) (kinds map[string]int, wide float64) {
	kinds = map[string]int{}
	z := html.NewTokenizer(strings.NewReader(svg))
	for {
		kind := z.Next()
		if kind == html.ErrorToken {
			return kinds, wide
		}
		if kind == html.EndTagToken {
			continue
		}
		attr := map[string]string{}
		tok := z.Token()
		for _, a := range tok.Attr {
			attr[strings.ToLower(a.Key)] = a.Val
		}
		if tok.Data == "svg" {
			if _, err := fmt.Sscanf(attr["viewbox"], "0 0 %g", &wide); err != nil {
				t.Fatalf("the picture has no frame: %v in %.200s", err, svg)
			}
		}
		class, n := attr["class"], 1
		if text, said := attr["data-n"]; said {
			n, _ = strconv.Atoi(text)
		}
		for _, k := range []string{"used", "lent", "free", "over"} {
			if class == "g-"+k {
				kinds[k] += n
			}
		}
	}
}

func TestAPictureShowsTheNumbersOfItsBalance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		most := rapid.SampledFrom([]int{4, 20, 150, 3000}).Draw(t, "most")
		b := reports.Balance{Used: rapid.IntRange(0, most).Draw(t, "used"), Lent: rapid.IntRange(0, most/3).Draw(t, "lent"), Free: rapid.IntRange(0, most).Draw(t, "free")}
		b.Limit = b.Used + b.Lent + b.Free
		if b.Free == 0 && b.Lent == 0 {
			b.Over = rapid.IntRange(0, most).Draw(t, "over")
		}
		var who []holder
		for i := range rapid.IntRange(0, 3).Draw(t, "holders") {
			who = append(who, holder{Name: fmt.Sprintf("Holder <%d> & Son", i), N: rapid.IntRange(0, most).Draw(t, "units")})
		}
		svg := string(gauge(b, who, rapid.SampledFrom([]string{"", "/permits/x#shares"}).Draw(t, "href")))
		if b.Limit+b.Over == 0 {
			if !strings.Contains(svg, "nought") {
				t.Fatalf("a number of nought: got %q", svg)
			}
			return
		}
		got, wide := counted(t, svg)
		want := map[string]int{"used": b.Used, "lent": b.Lent, "free": b.Free, "over": b.Over}
		for k, n := range want {
			if got[k] != n {
				t.Fatalf("%+v: the picture shows %d %s, want %d", b, got[k], k, n)
			}
		}
		if wide > 345 {
			t.Fatalf("%+v: the picture is %g wide; on a phone it would shrink below what can be read", b, wide)
		}
		if !strings.Contains(svg, inWords(b)) || strings.Contains(svg, "<0>") {
			t.Fatalf("%+v: the words are missing, or a name became markup", b)
		}
		if err := wellFormed(svg); err != nil {
			t.Fatalf("%+v: %v", b, err)
		}
	})
}

func TestEveryLentUnitNamesWhoHoldsIt(t *testing.T) {
	b := reports.Balance{Limit: 9, Used: 2, Lent: 5, Free: 2}
	row := numberRow{Balance: b, Who: []holder{{Name: "Ana Petrosyan-Reed", N: 3}, {Name: "Cal Whitlock", N: 1, Gone: "phone lost"}}}
	if got, want := row.LentWords(), "Ana Petrosyan-Reed 3, Cal Whitlock 1 (phone lost), a phone that is not listed 1"; got != want {
		t.Errorf("got  %q\nwant %q", got, want)
	}
	svg := string(row.Picture())
	for _, want := range []string{"<title>3 lent to Ana Petrosyan-Reed</title>", ">AP</text>", ">CW</text>", "<title>1 lent to a phone that is not listed</title>"} {
		if !strings.Contains(svg, want) {
			t.Errorf("the picture lacks %q", want)
		}
	}
}

func TestTicksAreRoundAndFew(t *testing.T) {
	for limit, want := range map[int]int{401: 100, 500: 100, 999: 200, 1000: 200, 5000: 1000, 12000: 5000} {
		if got := tickOf(limit); got != want || limit/got > 5 {
			t.Errorf("a number of %d: got a tick every %d, want every %d", limit, got, want)
		}
	}
}
