package web

import (
	"context"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"wayfall/permits"
	"wayfall/server/catalogue"
	"wayfall/server/fault"
	"wayfall/server/people"
)

// dutyBook is the book of finds where it also knows every duty.
type dutyBook interface {
	Duties(ctx context.Context) ([]catalogue.Duty, error)
}

// listing is one person's time on one paper.
type listing struct {
	Paper, Name, Role string
	From, To          permits.Date
	Now               bool
}

// member is somebody with what they may do and did.
type member struct {
	people.Person
	On      []listing
	Finds   int // reports of this year
	Before  int // and of the year before
	Open    int // duties that are not done
	Late    int
	Recent  []catalogue.Find
	Due     []catalogue.Duty
	Devices []people.Device
	Shares  []Share
}

type crewBody struct {
	Year    int
	Members []member
	Gone    []member // who left
	May     bool
}

func (d *Desk) crew(c echo.Context) error {
	all, err := d.members(c.Request().Context())
	if err != nil {
		return err
	}
	b := crewBody{Year: d.today().Year(), May: seated(c).May(officers...) && d.Papers != nil}
	for _, m := range all {
		if m.Left {
			b.Gone = append(b.Gone, m)
		} else {
			b.Members = append(b.Members, m)
		}
	}
	return d.show(c, http.StatusOK, "people", page{Title: "People", Here: "Permits", Body: b})
}

type crewMemberBody struct {
	Year   int
	Member member
	More   int // finds of the year that are not shown
}

// recentFinds is how many finds a person's page shows.
const recentFinds = 20

func (d *Desk) crewMember(c echo.Context) error {
	all, err := d.members(c.Request().Context())
	if err != nil {
		return err
	}
	at := slices.IndexFunc(all, func(m member) bool { return m.ID == c.Param("id") })
	if at < 0 {
		return fault.New(fault.Missing, "nobody of that name is known here")
	}
	b := crewMemberBody{Year: d.today().Year(), Member: all[at]}
	b.More = b.Member.Finds - len(b.Member.Recent)
	return d.show(c, http.StatusOK, "person", page{Title: b.Member.Name, Here: "Permits", Body: b})
}

// members gathers everybody with their papers, finds and duties.
func (d *Desk) members(ctx context.Context) ([]member, error) {
	all, err := d.Door.All(ctx)
	if err != nil {
		return nil, err
	}
	out, at := make([]member, len(all)), map[string]*member{}
	for i, p := range all {
		out[i].Person = p
		at[p.ID] = &out[i]
	}
	for _, fill := range []func(context.Context, map[string]*member) error{d.fillPapers, d.fillFinds, d.fillDuties, d.fillDevices} {
		if err := fill(ctx, at); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func (d *Desk) fillPapers(ctx context.Context, at map[string]*member) error {
	if d.Office == nil {
		return nil
	}
	rows, err := d.Office.Permits(ctx, d.today())
	for _, r := range rows {
		for _, g := range r.Persons {
			if m := at[g.Person]; m != nil {
				now := (g.From == 0 || g.From <= d.today()) && (g.To == 0 || d.today() <= g.To) && r.InForce(d.today()) == permits.Yes
				m.On = append(m.On, listing{r.ID, r.Name, g.Role, g.From, g.To, now})
			}
		}
	}
	return err
}

func (d *Desk) fillFinds(ctx context.Context, at map[string]*member) error {
	year, before := strconv.Itoa(d.today().Year()), strconv.Itoa(d.today().Year()-1)
	const most = 1 << 30
	list, err := d.Book.Finds(ctx, catalogue.Filter{Limit: most})
	for _, f := range list.Rows {
		m := at[f.Finder]
		switch {
		case m == nil || f.Withdrawn:
			continue
		case strings.HasPrefix(f.Found.Earliest, before):
			m.Before++
			continue
		case !strings.HasPrefix(f.Found.Earliest, year):
			continue
		}
		if m.Finds++; len(m.Recent) < recentFinds {
			m.Recent = append(m.Recent, f)
		}
	}
	return err
}

func (d *Desk) fillDuties(ctx context.Context, at map[string]*member) error {
	book, ok := d.Book.(dutyBook)
	if !ok {
		return nil
	}
	all, err := book.Duties(ctx)
	today := d.today().String()
	for _, duty := range all {
		m := at[duty.Who]
		if m == nil || duty.Done || duty.Void != "" || len(duty.Due) < 10 || strings.HasSuffix(duty.Code, "_LINE") {
			continue
		}
		m.Open++
		if duty.Due[0] >= '0' && duty.Due[0] <= '9' && duty.Due[:10] < today {
			m.Late++
		}
		m.Due = append(m.Due, duty)
	}
	for _, m := range at {
		slices.SortStableFunc(m.Due, func(x, y catalogue.Duty) int { return compareDue(x.Due, y.Due) })
	}
	return err
}

func (d *Desk) fillDevices(ctx context.Context, at map[string]*member) error {
	all, err := d.Door.Devices(ctx)
	if err != nil {
		return err
	}
	for _, dev := range all {
		if m := at[dev.Person]; m != nil {
			m.Devices = append(m.Devices, dev)
		}
	}
	shares, err := d.shares(ctx)
	for _, s := range shares {
		if m := at[s.Person]; m != nil && s.Left > 0 {
			m.Shares = append(m.Shares, s)
		}
	}
	return err
}
