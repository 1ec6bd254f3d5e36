package demo

import (
	"context"
	"strings"
	"time"

	"wayfall/fixtures/packs"
	"wayfall/fixtures/scenario"
	"wayfall/geo"
	"wayfall/geo/region"
	"wayfall/geo/sanity"
	"wayfall/permits/screen/find"
	"wayfall/server"
	"wayfall/server/people"
	"wayfall/sync/op"
	"wayfall/sync/record"
)

// siteRadius holds a house and its yard, in metres; our own choice.
const siteRadius = 150

// Around tells a server where the story's institution collects and where its
// reports are typed up.
func Around(s scenario.Story) func(*server.Config) {
	return func(cfg *server.Config) {
		cfg.Land = &server.File{Name: "land-demo.json", Data: packs.DemoLand()}
		cfg.Home = []region.ID{"26", "18"} // Michigan, and Indiana across the line
		add := func(name string, at scenario.Point) {
			if p, err := geo.At(geo.Degrees(at.Lat), geo.Degrees(at.Lon)); err == nil {
				cfg.Sites = append(cfg.Sites, sanity.Place{Name: name, At: geo.Circle{Centre: p, Radius: siteRadius}})
			}
		}
		add("the museum", s.Institution.Site)
		for _, p := range s.People {
			if p.Home != nil {
				add("the home of "+p.Name, *p.Home)
			}
		}
	}
}

// rolesOf turns the trades of the story into roles.
func rolesOf(p scenario.Person) []people.Role {
	var roles []people.Role
	for _, r := range p.Roles {
		switch {
		case r == "salvager":
			roles = append(roles, people.Salvager)
		case r == "compliance officer":
			roles = append(roles, people.PermitOfficer)
		case r == "registrar":
			roles = append(roles, people.Registrar)
		case r == "preparator":
			roles = append(roles, people.Preparator)
		case strings.Contains(r, "curator"), r == "freezer manager":
			roles = append(roles, people.Reader)
		}
	}
	return roles
}

// Inviter keeps a person of the story and returns a code that signs in once.
func Inviter(book *people.Book) func(context.Context, scenario.Person) (string, error) {
	return func(ctx context.Context, p scenario.Person) (string, error) {
		who := people.Person{ID: p.Key, Name: p.Name, Roles: rolesOf(p)}
		if _, err := book.Person(ctx, p.Key); err != nil {
			if err := book.Keep(ctx, who); err != nil {
				return "", err
			}
		}
		return book.IssueCode(ctx, p.Key, people.CodeTerms{Lasts: time.Hour})
	}
}

// Placer works out the place of a find from what is said of it, as the phone's
// core does. Coordinates that cannot be leave the place unknown.
func Placer(m find.Map) func([]op.Act) record.Georeference {
	return func(acts []op.Act) record.Georeference {
		var w find.Whereabouts
		for _, a := range acts {
			switch a.Field {
			case "fix":
				w.Fix = new(record.Fix)
				_ = a.Value.Into(w.Fix)
			case "coordinates":
				_ = a.Value.Into(&w.Coordinates)
			case "locality":
				_ = a.Value.Into(&w.Locality)
			}
		}
		g, err := m.Place(w)
		if err != nil {
			return record.Georeference{}
		}
		return g
	}
}
