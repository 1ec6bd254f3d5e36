package demo

import (
	"strings"

	"wayfall/fixtures/scenario"
	"wayfall/permits"
)

const sampleNotice = "SAMPLE: invented paper, holder and people; not a real authority."

// Papers turns the permits of the story into authorities. today keeps the demo
// usable: papers that ended before the end of the next year are taken as
// renewed until then, and so are listings that ran to the end of their paper
// or of the story's year; a listing that ended earlier stays ended.
func Papers(s scenario.Story, today permits.Date) []permits.Authority {
	var out []permits.Authority
	for _, p := range s.Permits {
		out = append(out, paper(s, p, today))
	}
	return out
}

func paper(s scenario.Story, p scenario.Permit, today permits.Date) permits.Authority {
	a := permits.Authority{
		ID: p.Key, Name: strings.TrimSuffix(p.Name, " (sample)"), Version: 1, Sample: true, Notice: sampleNotice,
		Issuer: p.Issuer, Number: p.Number, Holder: s.Institution.Name, Status: permits.Active,
		ValidFrom: date(p.From), ValidTo: later(date(p.Until), today),
		Area: []string{"US-MI"}, Activities: []string{"salvage", "possess", "transport", "transfer"},
		Materials: []string{"carcass", "part", "feather", "inactive_nest", "nonviable_egg"},
		CarryCopy: true, Repositories: []string{s.Institution.Name}, ReportTo: p.Issuer,
		ReportDue: monthDay(p.ReportDue), DepositRule: deposit(p.Deposit),
	}
	for _, l := range p.Persons {
		g := permits.Grant{Person: l.Person, Role: "subpermittee", From: date(l.From)}
		if end := date(l.Until); l.Until != p.Until && end < permits.NewDate(s.Season.ReportYear, 12, 31) {
			g.To = end
		}
		a.Persons = append(a.Persons, g)
	}
	if len(p.Causes) > 0 {
		a.Holder, a.Causes = p.Holder, []string{"turbine"}
	}
	if strings.HasPrefix(p.Issuer, "Michigan") {
		a.Kind, a.Basis, a.Jurisdiction = "state_salvage", "Michigan permit (invented)", "US-MI"
		a.TaxaInclude, a.TaxaExclude = []string{"Aves", "Mammalia"}, []string{"us-mi-listed", "us-esa"}
		for _, q := range p.Quotas { // a paper that gives a number for a listed bird covers it
			if sci := named[q.Taxon]; sci != "" {
				a.TaxaInclude = append(a.TaxaInclude, sci)
			}
		}
		a.Quotas = quotas(p.Quotas)
		return a
	}
	a.Kind, a.Basis, a.Jurisdiction = "special_purpose_salvage", "50 CFR 21.95 (invented permit)", "US"
	if len(p.Causes) > 0 {
		a.Kind = "utility"
	}
	a.TaxaInclude, a.TaxaExclude = []string{"us-mbta"}, []string{"eagle", "us-esa"}
	for _, other := range s.Permits { // good only while the state's own paper is
		if strings.HasPrefix(other.Issuer, "Michigan") && other.Holder == p.Holder {
			a.DependsOn = append(a.DependsOn, other.Key)
		}
	}
	return a
}

var named = map[string]string{"Common Loon": "Gavia immer", "Trumpeter Swan": "Cygnus buccinator"}

// quotas of the named species run over the paper's life; what the story calls
// any other bird is the sum over all birds.
func quotas(all []scenario.Quota) []permits.Quota {
	birds := 0
	var out []permits.Quota
	for _, q := range all {
		switch sci, single := named[q.Taxon]; {
		case single:
			birds += q.Most
			out = append(out, permits.Quota{ID: q.Taxon, Per: "taxon", Taxa: []string{sci},
				Units: []string{"carcass"}, Limit: q.Most, Window: "permit_life", Shared: "permit", WarnPercent: 80})
		case strings.Contains(q.Taxon, "bird"):
			out = append(out, permits.Quota{ID: "All birds", Per: "list", Taxa: []string{"Aves"},
				Units: []string{"carcass"}, Limit: q.Most + birds, Window: "calendar_year", Shared: "permit", WarnPercent: 80})
		default:
			out = append(out, permits.Quota{ID: "All mammals", Per: "list", Taxa: []string{"Mammalia"},
				Units: []string{"carcass"}, Limit: q.Most, Window: "calendar_year", Shared: "permit", WarnPercent: 80})
		}
	}
	return out
}

func deposit(d *scenario.Deposit) *permits.DueRule {
	if d == nil {
		return nil
	}
	months := permits.DueRule{Months: d.Months}
	if !d.YearEnd {
		return &months
	}
	var end permits.DueRule
	end.MonthDay = monthDay("2000-12-31")
	return &permits.DueRule{Min: []permits.DueRule{months, end}}
}

func date(text string) permits.Date {
	d, err := permits.ParseDate(text)
	if err != nil {
		return 0
	}
	return d
}

func monthDay(text string) (md permits.MonthDay) {
	if len(text) == len("2026-01-31") {
		if err := md.UnmarshalText([]byte(text[5:])); err != nil {
			return 0
		}
	}
	return md
}

func later(until, today permits.Date) permits.Date {
	if !today.Known() {
		return until
	}
	if end := permits.NewDate(today.Year()+1, 12, 31); end > until {
		return end
	}
	return until
}
