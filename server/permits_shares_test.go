package server_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
)

func TestAPhoneIsLentOfEveryNumberAndTheDeskNamesItsOwner(t *testing.T) {
	m := open(t, nil)
	desmond := m.desk("desmond")
	desmond.enter()
	in := desmond.amending()
	for k, v := range map[string]string{"quota.1": "Any bird", "limit.1": "200", "per.1": "list", "taxa.1": "Birds", "window.1": "calendar_year", "step": "save", "saw": "1"} {
		in.Set(k, v)
	}
	if r := desmond.post(amendPage, in); r.StatusCode != http.StatusSeeOther {
		t.Fatalf("saving: %d %s", r.StatusCode, wordsOn(r.body))
	}
	ana := m.phone("ana", 7)
	var lent struct {
		Grants []struct {
			Quota string
			Left  int
		}
	}
	ana.post("/v1/grants", map[string]any{"device": ana.id.String(), "next_seq": 1}).into(t, &lent)
	if len(lent.Grants) != 2 {
		t.Fatalf("got %+v, want a share of each of the two numbers", lent.Grants)
	}
	var balance struct {
		Balances []struct {
			Name                    string
			Limit, Used, Lent, Free int
		}
	}
	m.as("desmond").get("/v1/permits/SC-4471/balance").into(t, &balance)
	page := desmond.get("/permits/SC-4471").body
	words := wordsOn(page)
	for i, b := range balance.Balances {
		if b.Lent != lent.Grants[i].Left || b.Lent == 0 {
			t.Errorf("%s: the balance says %d lent, the phone was given %d", b.Name, b.Lent, lent.Grants[i].Left)
		}
		for _, want := range []string{fmt.Sprintf("%d of %d taken · %d lent · %d free Lent to: Ana Petrosyan-Reed %d", b.Used, b.Limit, b.Lent, b.Free, b.Lent),
			fmt.Sprintf("%d left Ana Petrosyan-Reed · phone · %s", b.Lent, lent.Grants[i].Quota)} {
			if !strings.Contains(words, want) {
				t.Errorf("the page of the paper lacks %q", want)
			}
		}
		if want := fmt.Sprintf(`aria-label="%d taken, %d lent, %d free of %d"`, b.Used, b.Lent, b.Free, b.Limit); !strings.Contains(string(page), want) {
			t.Errorf("no picture says %s", want)
		}
	}
	if !strings.Contains(words, "not heard yet") {
		t.Error("a phone that never saved is not said to be unheard")
	}
	m.as("desmond").post("/v1/devices/"+ana.id.String()+"/lost", map[string]any{})
	if words := wordsOn(desmond.get("/permits/SC-4471").body); !strings.Contains(words, "Ana Petrosyan-Reed "+fmt.Sprint(balance.Balances[0].Lent)+" (phone lost)") {
		t.Error("what went with a lost phone is not said to be lost with it")
	}
}
